import { describe, expect, it } from "vitest";
import { imagePoint as p, type ImagePoint } from "../geometry/spaces";
import { choose, feed } from "./tools.fixture";
import { angle, discs } from "./corners";
import { drag, grip, moved, nudge } from "./drag";
import { envelope, outline } from "./path";
import { peak } from "./peak";
import { depth, distance, time } from "./segment";

const click = (at: ImagePoint) => ["move", "down", "up"].map((type) => ({ type, at })) as never;

describe("two points", () => {
  it("takes press, drag, release", () => {
    const done = feed(distance, [
      { type: "down", at: p(1, 1) }, { type: "move", at: p(5, 5) }, { type: "up", at: p(30, 40) },
    ]);
    expect(done).toEqual([p(1, 1), p(30, 40)]);
  });
  it("takes two clicks, as a pen or the keyboard gives them", () => {
    expect(feed(distance, [...click(p(1, 1)), ...click(p(30, 40))])).toEqual([p(1, 1), p(30, 40)]);
  });
  it("does not end on a slip of the hand", () => {
    expect(feed(distance, click(p(1, 1)))).toBeNull();
  });
  it("counts depth alone on an M-mode, and time alone along a sweep", () => {
    expect(feed(depth, [...click(p(10, 10)), ...click(p(14, 90))])).toEqual([p(10, 10), p(10, 90)]);
    expect(feed(time, [...click(p(10, 10)), ...click(p(90, 14))])).toEqual([p(10, 10), p(90, 10)]);
  });
  it("is dropped by cancel", () => {
    const events = [...click(p(1, 1)), { type: "cancel" }, { type: "up", at: p(50, 50) }];
    expect(feed(distance, events as never)).toBeNull();
  });
});

describe("a peak", () => {
  it("is where the hand lets go", () => {
    const done = feed(peak, [
      { type: "down", at: p(1, 1) }, { type: "move", at: p(2, 2) }, { type: "up", at: p(3, 3) },
    ]);
    expect(done).toEqual([p(3, 3)]);
  });
});

describe("an outline", () => {
  const square = [p(0, 0), p(40, 0), p(40, 40), p(0, 40)];
  it("closes on a click on its first point", () => {
    expect(feed(outline, [...square, p(1, 1)].flatMap(click))).toEqual(square);
  });
  it("closes on Enter, and not before three points", () => {
    expect(feed(outline, [...square.slice(0, 2).flatMap(click), { type: "finish" }])).toBeNull();
    expect(feed(outline, [...square.flatMap(click), { type: "finish" }])).toEqual(square);
  });
  it("ends on a second press in the same place, as Enter twice gives it", () => {
    expect(feed(outline, [...square, p(0, 40)].flatMap(click))).toEqual(square);
  });
  it("takes the last point back", () => {
    const events = [...square.flatMap(click), { type: "back" }, { type: "finish" }];
    expect(feed(outline, events as never)).toEqual(square.slice(0, 3));
  });
  it("is drawn by one drag that comes home", () => {
    const around = Array.from({ length: 60 }, (_, n) =>
      p(100 + 50 * Math.cos((n / 59) * 2 * Math.PI), 100 + 50 * Math.sin((n / 59) * 2 * Math.PI)));
    const [first, ...rest] = around as [ImagePoint, ...ImagePoint[]];
    const done = feed(outline, [
      { type: "down", at: first }, ...rest.map((at) => ({ type: "move" as const, at })),
      { type: "up", at: rest[rest.length - 1] ?? first },
    ]);
    expect(done?.length).toBeGreaterThan(8);
  });
});

describe("an envelope", () => {
  it("never runs backwards in time", () => {
    const points = [p(0, 5), p(10, 9), p(6, 7), p(20, 4)];
    const done = feed(envelope, [...points.flatMap(click), { type: "finish" }]);
    expect(done).toEqual([p(0, 5), p(10, 9), p(20, 4)]);
  });
});

describe("clicks in a fixed number", () => {
  it("makes a chamber's outline from annulus and apex, through the apex", () => {
    const done = feed(discs, [p(0, 0), p(40, 0), p(20, 60)].flatMap(click)) ?? [];
    expect(done.length).toBeGreaterThanOrEqual(5); // fewest points of a volume: docs/calipers.md
    const [x, y] = done[(done.length - 1) / 2] ?? p(0, 0);
    expect(x).toBeCloseTo(20, 9);
    expect(y).toBeCloseTo(60, 9);
  });
  it("takes three clicks for an angle", () => {
    expect(feed(angle, [p(1, 0), p(0, 0), p(0, 1)].flatMap(click))).toHaveLength(3);
  });
});

describe("dragging", () => {
  const handles = [
    { owner: "a", points: [p(0, 0), p(0, 50)], way: "upright" as const },
    { owner: "b", points: [p(4, 51)], way: "free" as const },
  ];
  it("takes the nearest point of all drawings", () => {
    expect(grip(handles, p(3.5, 51), 8)?.owner).toBe("b");
    expect(grip(handles, p(200, 200), 8)).toBeNull();
  });
  it("does not jump to the pointer, and keeps to its way", () => {
    const held = grip(handles, p(1, 49), 4);
    expect(held?.index).toBe(1);
    expect(drag(held!, p(1, 49), p(9, 59)).at).toEqual(p(0, 60));
    expect(nudge(held!, 5, -1).at).toEqual(p(0, 49));
    expect(moved([p(0, 0), p(0, 50)], { ...held!, at: p(0, 60) })).toEqual([p(0, 0), p(0, 60)]);
  });
});

describe("the gesture for a quantity", () => {
  it.each([
    // Source: what is measured where, docs/calipers.md
    ["LVIDd", "length", "m-mode", "depth"],
    ["LA", "length", "2-d", "distance"],
    ["DT", "time", "spectral doppler", "slope"],
    ["ET", "time", "spectral doppler", "time"],
    ["MR_Vmax", "velocity", "spectral doppler", "peak"],
    ["AV_VTI", "vti", "spectral doppler", "envelope"],
    ["LAA", "area", "2-d", "outline"],
    ["EDV", "volume", "2-d", "discs"],
    ["HR", "rate", "ecg", "time"],
  ])("%s (%s) on %s is drawn by %s", (quantity, kind, region, tool) => {
    expect(choose(quantity, kind, region)).toBe(tool);
  });
});
