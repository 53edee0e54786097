import { frameAt, type Loop } from "./clock";

/** From each R wave to the next, as frames; the frame of the next R wave belongs to the next beat. */
export function beatLoops(r_times_s: readonly number[], edges: readonly number[]): readonly Loop[] {
  return r_times_s.slice(1).flatMap((end, at) => {
    const loop = { first: frameAt(edges, r_times_s[at] ?? 0), last: frameAt(edges, end) - 1 };
    return loop.last > loop.first ? [loop] : [];
  });
}

/** Whole beats only, from the first R wave to the last. */
export function wholeBeats(loops: readonly Loop[]): Loop | null {
  const [first, last] = [loops[0], loops[loops.length - 1]];
  return first && last ? { first: first.first, last: last.last } : null;
}

/** Beats passed since the first R wave, with the share of the one under way. */
export function beatPhase(r_times_s: readonly number[], time_s: number): number | null {
  const next = r_times_s.findIndex((time) => time > time_s);
  if (next <= 0) return null;
  const [from, to] = [r_times_s[next - 1] ?? 0, r_times_s[next] ?? 1];
  return next - 1 + (time_s - from) / (to - from);
}

/** The time in another clip at the same share of a beat; its beats are used in turn. */
export function timeAtPhase(r_times_s: readonly number[], phase: number): number | null {
  const beats = r_times_s.length - 1;
  if (beats < 1) return null;
  const at = Math.floor(phase) % beats;
  const [from, to] = [r_times_s[at] ?? 0, r_times_s[at + 1] ?? 1];
  return from + (phase - Math.floor(phase)) * (to - from);
}
