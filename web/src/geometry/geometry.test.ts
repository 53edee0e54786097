import { describe, expect, it } from "vitest";
import { angleDegrees, areaPx, chamberOutline, isSimple, nearest, simplify } from "./shapes";
import { imagePoint as p, screenPoint, toImage, toScreen } from "./spaces";
import { fit, pan, pinch, zoom } from "./zoom";

const frame = { width: 800, height: 600 };
const stage = { width: 1000, height: 500 };

describe("spaces", () => {
  it("puts the centre of pixel 0 half a pixel inside the frame's corner", () => {
    // Source: pixel centres are integers (the project's own rule, docs/study-json.md).
    expect(toScreen(p(0, 0), { left: 10, top: 20, scale: 4 })).toEqual([12, 22]);
  });
  it("comes back from the screen to the same point", () => {
    const view = { left: -31.5, top: 12.25, scale: 1.7 };
    const [x, y] = toImage(toScreen(p(123.4, 56.7), view), view);
    expect(x).toBeCloseTo(123.4, 9);
    expect(y).toBeCloseTo(56.7, 9);
  });
});

describe("zoom", () => {
  it("fits the tighter side and centres the other", () => {
    const view = fit(frame, stage);
    expect(view.scale).toBeCloseTo(500 / 600, 9);
    expect(view.top).toBeCloseTo(0, 9);
    expect(view.left).toBeCloseTo((1000 - 800 * (500 / 600)) / 2, 9);
  });
  it("keeps the point under the pointer where it is", () => {
    const fitted = fit(frame, stage);
    const at = screenPoint(700, 130);
    const before = toImage(at, fitted);
    const after = toImage(at, zoom(fitted, 3.3, at, fitted));
    expect(after[0]).toBeCloseTo(before[0], 9);
    expect(after[1]).toBeCloseTo(before[1], 9);
  });
  it("stops at its limits however hard the wheel is turned", () => {
    const fitted = fit(frame, stage);
    const at = screenPoint(1, 1);
    expect(zoom(fitted, 1e9, at, fitted).scale).toBe(32);
    expect(zoom(fitted, 1e-9, at, fitted).scale).toBeCloseTo(fitted.scale / 2, 9);
  });
  it("follows two fingers: what was under their middle stays there", () => {
    const fitted = fit(frame, stage);
    const before = [screenPoint(100, 100), screenPoint(200, 100)] as const;
    const after = [screenPoint(120, 150), screenPoint(320, 150)] as const;
    const under = toImage(screenPoint(150, 100), fitted);
    const then = toImage(screenPoint(220, 150), pinch(fitted, before, after, fitted));
    expect(then[0]).toBeCloseTo(under[0], 9);
    expect(then[1]).toBeCloseTo(under[1], 9);
  });
  it("pans by screen pixels", () => {
    expect(pan({ left: 1, top: 2, scale: 3 }, 10, -5)).toEqual({ left: 11, top: -3, scale: 3 });
  });
});

describe("shapes", () => {
  it("gives the area of a 3 by 4 right triangle as 6", () => {
    // Source: half of base times height.
    expect(areaPx([p(0, 0), p(3, 0), p(0, 4)])).toBe(6);
  });
  it("measures a right angle as 90 degrees, and a wide pixel's diagonal with its aspect", () => {
    expect(angleDegrees(p(1, 0), p(0, 0), p(0, 1))).toBeCloseTo(90, 9);
    // A pixel twice as tall as wide: 45 degrees on the screen are atan 2 = 63.43 (trigonometric tables).
    expect(angleDegrees(p(1, 0), p(0, 0), p(1, 1), 2)).toBeCloseTo(63.43, 2);
  });
  it("finds the nearest point within reach only", () => {
    const points = [p(0, 0), p(10, 0)];
    expect(nearest(points, p(8, 0), 3)?.index).toBe(1);
    expect(nearest(points, p(5, 0), 3)).toBeNull();
  });
  it("knows an outline that crosses itself", () => {
    expect(isSimple([p(0, 0), p(4, 0), p(4, 4), p(0, 4)])).toBe(true);
    expect(isSimple([p(0, 0), p(4, 4), p(4, 0), p(0, 4)])).toBe(false);
  });
  it("starts a chamber as half an ellipse: its area is pi/4 times width times length", () => {
    // Source: area of an ellipse, halved. 401 points leave less than 0.01 %.
    const outline = chamberOutline(p(0, 0), p(40, 0), p(20, 60), 401);
    expect(areaPx(outline) / ((Math.PI / 4) * 40 * 60)).toBeCloseTo(1, 4);
    expect(outline[0]).toEqual([40 - 40, 0]);
  });
  it("keeps corners and drops what lies on a straight line", () => {
    const line = [p(0, 0), p(1, 0.01), p(2, 0), p(2, 1), p(2, 2)];
    expect(simplify(line, 0.1)).toEqual([p(0, 0), p(2, 0), p(2, 2)]);
  });
});
