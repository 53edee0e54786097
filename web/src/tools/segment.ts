import { distancePx } from "../geometry/shapes";
import { imagePoint, type ImagePoint } from "../geometry/spaces";
import type { Join, Step, Tool, ToolEvent } from "./tool";

export interface Segment {
  readonly from: ImagePoint;
  readonly to: ImagePoint;
  /** Whether the first press was let go: then the next press ends the segment. */
  readonly clicked: boolean;
}

type State = Segment | null;
type Constrain = (from: ImagePoint, at: ImagePoint) => ImagePoint;

const free: Constrain = (_, at) => at;
const upright: Constrain = (from, at) => imagePoint(from[0], at[1]);
const level: Constrain = (from, at) => imagePoint(at[0], from[1]);

/** Two points by press-drag-release or by two clicks. */
function segmentTool(id: string, join: Join, constrain: Constrain): Tool<State> {
  return {
    id,
    join,
    start: null,
    step: (state, event) => step(state, event, constrain),
    points: (state) => (state === null ? [] : [state.from, state.to]),
    hint: (state) => (state === null ? "Place the first point" : "Place the second point"),
  };
}

function step(state: State, event: ToolEvent, constrain: Constrain): Step<State> {
  if (event.type === "cancel" || event.type === "back") return { state: null };
  if (event.type === "finish") return { state };
  if (state === null) {
    if (event.type !== "down") return { state };
    return { state: { from: event.at, to: event.at, clicked: false } };
  }
  const to = constrain(state.from, event.at);
  const moved = { ...state, to };
  if (event.type === "move") return { state: moved };
  if (event.type === "down") return { state: moved };
  const isShort = distancePx(state.from, to) < event.reach_px;
  // A press let go where it began was the first of two clicks.
  if (isShort) return { state: { ...moved, clicked: true } };
  return { state: null, done: [state.from, to] };
}

export const distance = segmentTool("distance", "line", free);
/** An M-mode counts depth alone. */
export const depth = segmentTool("depth", "depth", upright);
export const time = segmentTool("time", "time", level);
export const slope = segmentTool("slope", "line", free);
export const cursor = segmentTool("cursor", "line", free);
