/** The stretch of a clip that plays, first and last frame inclusive. */
export interface Loop {
  readonly first: number;
  readonly last: number;
}

/** When each frame starts, plus the end of the last one: it stays as long as the middle frame does. */
export function frameEdges(times_s: readonly number[]): readonly number[] {
  if (times_s.length < 2) return [0, 1];
  const steps = times_s.slice(1).map((time, at) => time - (times_s[at] ?? 0));
  const middle = [...steps].sort((a, b) => a - b)[Math.floor(steps.length / 2)] ?? 0.04;
  return [...times_s, (times_s[times_s.length - 1] ?? 0) + middle];
}

/** Times for a file that stores none: the usual 30 frames a second, so that it can be looked at. */
export const assumedTimes = (frames: number) => Array.from({ length: frames }, (_, n) => n / 30);

/** The frame that is on screen at a time: the last one that has started. */
export function frameAt(edges: readonly number[], time_s: number): number {
  let [low, high] = [0, edges.length - 2];
  while (low < high) {
    const middle = Math.ceil((low + high) / 2);
    if ((edges[middle] ?? 0) <= time_s) low = middle;
    else high = middle - 1;
  }
  return low;
}

/** Bring a time back into the loop, keeping what ran over. */
export function wrap(edges: readonly number[], loop: Loop, time_s: number): number {
  const [start, end] = [edges[loop.first] ?? 0, edges[loop.last + 1] ?? 1];
  const length = end - start;
  if (length <= 0) return start;
  return start + ((((time_s - start) % length) + length) % length);
}
