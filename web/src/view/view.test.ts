import { describe, expect, it } from "vitest";
import { imagePoint as p } from "../geometry/spaces";
import { beatLoops, beatPhase, timeAtPhase, wholeBeats } from "./beats";
import { Bounded } from "./bounded";
import { Clip, type FrameSource } from "./clip";
import { frameAt, frameEdges, wrap } from "./clock";
import { estimate } from "./estimate";
import { newMemory } from "./memory";
import { unpack } from "./pack";
import { STOPPED, Timeline } from "./player";

describe("the clock", () => {
  const edges = frameEdges([0, 0.04, 0.08, 0.2]);
  it("shows each frame from its stored time until the next one's", () => {
    expect([0, 0.039, 0.04, 0.19, 0.2].map((time) => frameAt(edges, time))).toEqual([0, 0, 1, 2, 3]);
  });
  it("keeps the last frame as long as the middle one", () => {
    expect(edges[4]).toBeCloseTo(0.24, 9);
  });
  it("carries what ran over the end into the next round", () => {
    expect(wrap(edges, { first: 0, last: 3 }, 0.25)).toBeCloseTo(0.01, 9);
    expect(wrap(edges, { first: 1, last: 2 }, 0.21)).toBeCloseTo(0.05, 9);
  });
});

describe("the player", () => {
  const times = Array.from({ length: 100 }, (_, n) => n / 50);
  const line = new Timeline({ times_s: times, r_times_s: [0.1, 0.6, 1.1, 1.6] });
  it("plays a second of a clip in a second, whatever the screen's rate", () => {
    let state = { ...STOPPED, isPlaying: true };
    for (let tick = 0; tick < 60; tick += 1) state = line.after(state, 1 / 60) as typeof state;
    expect(state.time_s).toBeCloseTo(1, 6);
    expect([49, 50]).toContain(state.frame); // 50 frames a second were stored
  });
  it("plays at a tenth of the speed", () => {
    const state = line.after({ ...STOPPED, isPlaying: true, speed: 0.1 }, 1);
    expect(state.time_s).toBeCloseTo(0.1, 9);
  });
  it("loops one beat from R to R without its last frame twice", () => {
    expect(line.loop({ ...STOPPED, loopKind: "one beat", beat: 1 })).toEqual({ first: 30, last: 54 });
    expect(line.loop({ ...STOPPED, loopKind: "whole beats" })).toEqual({ first: 5, last: 79 });
  });
  it("steps by frames around the end, and by R waves", () => {
    expect(line.step(STOPPED, -1).frame).toBe(99);
    expect(line.stepBeat({ ...STOPPED, frame: 10 }, 1).frame).toBe(30);
    expect(line.stepBeat({ ...STOPPED, frame: 10 }, -1).frame).toBe(5);
  });
  it("plays the whole clip where no beat is known", () => {
    const plain = new Timeline({ times_s: times, r_times_s: [] });
    expect(plain.loop({ ...STOPPED, loopKind: "one beat" })).toEqual({ first: 0, last: 99 });
  });
});

describe("beats of two clips", () => {
  it("stand at the same share of a beat, at another rate", () => {
    const phase = beatPhase([0, 1, 2], 1.25);
    expect(phase).toBeCloseTo(1.25, 9);
    expect(timeAtPhase([0.2, 0.6, 1.0], phase ?? 0)).toBeCloseTo(0.7, 9);
  });
  it("are not aligned outside known beats", () => {
    expect(beatPhase([0.5, 1], 0.2)).toBeNull();
    expect(timeAtPhase([0.5], 0.2)).toBeNull();
    expect(wholeBeats(beatLoops([], [0, 1]))).toBeNull();
  });
});

describe("a pack of frames", () => {
  it("is split by its lengths, and a torn end is left out", () => {
    const bytes = new Uint8Array([0, 0, 0, 2, 7, 8, 0, 0, 0, 1, 9, 0, 0, 0, 5, 1]);
    expect(unpack(bytes.buffer).map((frame) => [...frame])).toEqual([[7, 8], [9]]);
  });
});

describe("memory", () => {
  it("never holds more than its bound, and drops the oldest first", () => {
    const dropped: string[] = [];
    const store = new Bounded<string, string>(10, (value) => dropped.push(value));
    for (const key of ["a", "b", "c"]) store.put(key, key, 4);
    expect(store.bytes).toBe(8);
    expect(dropped).toEqual(["a"]);
  });
  it("keeps what is about to be shown", () => {
    const store = new Bounded<string, string>(10);
    store.put("near", "near", 4);
    store.put("far", "far", 4);
    store.put("new", "new", 4, (key) => key === "near");
    expect([store.has("near"), store.has("far"), store.has("new")]).toEqual([true, false, true]);
  });
});

describe("a clip", () => {
  const bitmap = () => ({ width: 100, height: 100, close: () => undefined }) as unknown as ImageBitmap;
  const wait = () => new Promise((resolve) => setTimeout(resolve, 5));
  function source(asked: string[]): FrameSource {
    const pack = (count: number) => {
      const bytes = new Uint8Array(count * 5);
      for (let n = 0; n < count; n += 1) bytes.set([0, 0, 0, 1, n], n * 5);
      return bytes.buffer;
    };
    return {
      key: "s/1", frames: 50, frame_bytes: 40_000,
      frame: async (at) => (asked.push(`frame ${at}`), new Blob(["x"])),
      pack: async (from, count) => (asked.push(`pack ${from}`), pack(count)),
    };
  }
  it("asks for the wanted frame first, then for everything, once", async () => {
    const asked: string[] = [];
    const clip = new Clip(source(asked), newMemory(), () => undefined, async () => bitmap());
    clip.want(13);
    await wait();
    expect(asked[0]).toBe("frame 13");
    expect(new Set(asked).size).toBe(asked.length);
    expect(clip.loaded).toBe(50);
    expect(clip.bitmap(13)).toBeDefined();
  });
  it("holds decoded frames to the bound while it plays around", async () => {
    const memory = newMemory(10 * 40_000);
    const clip = new Clip(source([]), memory, () => undefined, async () => bitmap());
    for (let frame = 0; frame < 100; frame += 1) {
      clip.want(frame % 50);
      await wait();
      expect(memory.decoded.bytes).toBeLessThanOrEqual(400_000);
      expect(clip.bitmap(frame % 50)).toBeDefined();
    }
  });
});

describe("an estimate for the eye", () => {
  it("agrees with printed calipers", () => {
    // Source: printed on open teaching screens of the TTE47 and MInD collections.
    const scale = { kind: "spectral doppler", baseline_row: 586, m_s_per_row: 1 / 206 };
    expect(estimate("velocity", [p(0, 433)], scale)).toBeCloseTo(0.742, 2);
    const rr = { kind: "ecg", s_per_column: 1 / 284 };
    expect(estimate("rate", [p(400, 0), p(653, 0)], rr)).toBeCloseTo(67.4, 1);
  });
  it("counts depth alone on an M-mode", () => {
    // Source: annular excursion on an open teaching screen, 23.0 rows/cm, printed 1.96 cm.
    const scale = { kind: "m-mode", cm_per_row: 1 / 23, s_per_column: 0.004 };
    expect(estimate("length", [p(370, 627), p(488, 582)], scale)).toBeCloseTo(1.96, 2);
  });
  it("says nothing without a scale", () => {
    expect(estimate("length", [p(0, 0), p(1, 1)], { kind: "2-d" })).toBeNull();
  });
});
