import type { ImagePoint } from "../geometry/spaces";
import type { Tool } from "./tool";

/** One point: press, adjust, release. */
export const peak: Tool<ImagePoint | null> = {
  id: "peak",
  join: "mark",
  start: null,
  step(state, event) {
    if (event.type === "down") return { state: event.at };
    if (state === null || event.type === "finish") return { state };
    if (event.type === "move") return { state: event.at };
    if (event.type === "up") return { state: null, done: [event.at] };
    return { state: null };
  },
  points: (state) => (state === null ? [] : [state]),
  hint: () => "Place the point on the peak",
};
