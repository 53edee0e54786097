import type { Index, Measurement, Reference } from "../api/types";

/** Where things stand on a line from 0 to 1; the interval always covers the same stretch of it. */
export interface Band {
  readonly corridor: readonly [number, number];
  readonly value: number;
  readonly whisker: readonly [number, number];
  readonly before: number | null;
  readonly place: "inside" | "above" | "below";
  readonly isBeyond: boolean;
}

const [LEFT, RIGHT] = [0.3, 0.7] as const;
type Scale = (value: number) => number;

export function bandOf(one: Measurement | Index, reference: Reference, before?: number): Band | null {
  const [low, high] = [reference.low ?? null, reference.high ?? null];
  const scale = scaleOf(low, high);
  if (scale === null) return null;
  const at = scale(one.value);
  const ends = one.interval90.map((end) => inside(scale(end))).sort((a, b) => a - b);
  return {
    corridor: [low === null ? 0 : LEFT, high === null ? 1 : RIGHT],
    value: inside(at),
    whisker: [ends[0] ?? at, one.bound === "lower" ? 1 : (ends[1] ?? at)],
    before: before === undefined ? null : inside(scale(before)),
    place: placeOf(one.value, low, high),
    isBeyond: at < 0 || at > 1,
  };
}

/** With one limit only, the line begins at zero. */
function scaleOf(low: number | null, high: number | null): Scale | null {
  if (low !== null && high !== null)
    return low < high ? (value) => LEFT + ((value - low) / (high - low)) * (RIGHT - LEFT) : null;
  const [limit, place] = low === null ? [high, RIGHT] : [low, LEFT];
  return limit === null || limit === 0 ? null : (value) => (place * value) / limit;
}

function placeOf(value: number, low: number | null, high: number | null): Band["place"] {
  if (high !== null && value > high) return "above";
  return low !== null && value < low ? "below" : "inside";
}

const inside = (share: number) => Math.min(Math.max(share, 0), 1);
