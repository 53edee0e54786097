import { beatLoops, wholeBeats } from "./beats";
import { frameAt, frameEdges, wrap, type Loop } from "./clock";

export type LoopKind = "all" | "whole beats" | "one beat";

export interface Timing {
  readonly times_s: readonly number[];
  readonly r_times_s: readonly number[];
}

/** Everything that a player knows; plain data. */
export interface Playing {
  readonly frame: number;
  readonly time_s: number;
  readonly isPlaying: boolean;
  readonly speed: number;
  readonly loopKind: LoopKind;
  readonly beat: number;
}

export const SPEEDS = [0.1, 0.25, 0.5, 1, 2] as const;

export const STOPPED: Playing = {
  frame: 0, time_s: 0, isPlaying: false, speed: 1, loopKind: "all", beat: 0,
};

/** What follows from a clip's stored times, computed once. */
export class Timeline {
  readonly edges: readonly number[];
  readonly beats: readonly Loop[];

  constructor(readonly timing: Timing) {
    this.edges = frameEdges(timing.times_s);
    this.beats = beatLoops(timing.r_times_s, this.edges);
  }

  get frames() {
    return this.edges.length - 1;
  }

  loop(state: Playing): Loop {
    const all = { first: 0, last: this.frames - 1 };
    if (state.loopKind === "one beat") return this.beats[state.beat % this.beats.length] ?? all;
    return state.loopKind === "whole beats" ? (wholeBeats(this.beats) ?? all) : all;
  }

  /** Let time pass. */
  after(state: Playing, passed_s: number): Playing {
    if (!state.isPlaying || this.frames < 2) return state;
    const time_s = wrap(this.edges, this.loop(state), state.time_s + passed_s * state.speed);
    return { ...state, time_s, frame: frameAt(this.edges, time_s) };
  }

  /** Go to a frame and stop there or play on. */
  to(state: Playing, frame: number): Playing {
    const at = ((frame % this.frames) + this.frames) % this.frames;
    return { ...state, frame: at, time_s: this.edges[at] ?? 0 };
  }

  /** One frame on or back, within the loop. */
  step(state: Playing, by: number): Playing {
    const { first, last } = this.loop(state);
    const count = last - first + 1;
    const inside = Math.min(Math.max(state.frame, first), last);
    const at = first + ((((inside - first + by) % count) + count) % count);
    return { ...this.to(state, at), isPlaying: false };
  }

  /** To the R wave after or before this frame. */
  stepBeat(state: Playing, by: 1 | -1): Playing {
    const starts = this.timing.r_times_s.map((time) => frameAt(this.edges, time));
    const next =
      by > 0 ? starts.find((frame) => frame > state.frame) : starts.findLast((frame) => frame < state.frame);
    return next === undefined ? { ...state, isPlaying: false } : { ...this.to(state, next), isPlaying: false };
  }
}
