import { chamberOutline } from "../geometry/shapes";
import type { ImagePoint } from "../geometry/spaces";
import type { Join, Step, Tool, ToolEvent } from "./tool";

/** A fixed number of clicks; the next point follows the pointer. */
export interface Clicks {
  readonly placed: readonly ImagePoint[];
  readonly hover: ImagePoint | null;
}

interface Rules {
  readonly id: string;
  readonly join: Join;
  readonly hints: readonly string[];
  readonly finished: (placed: readonly ImagePoint[]) => readonly ImagePoint[];
}

const EMPTY: Clicks = { placed: [], hover: null };

function clicksTool(rules: Rules): Tool<Clicks> {
  return {
    id: rules.id,
    join: rules.join,
    start: EMPTY,
    step: (state, event) => step(state, event, rules),
    points: ({ placed, hover }) => {
      const all = hover === null ? placed : [...placed, hover];
      return all.length === rules.hints.length ? rules.finished(all) : all;
    },
    hint: ({ placed }) => rules.hints[placed.length] ?? "",
  };
}

function step(state: Clicks, event: ToolEvent, rules: Rules): Step<Clicks> {
  switch (event.type) {
    case "cancel":
      return { state: EMPTY };
    case "back":
      return { state: { ...state, placed: state.placed.slice(0, -1) } };
    case "finish":
      return { state };
    case "up": {
      const placed = [...state.placed, event.at];
      return placed.length === rules.hints.length
        ? { state: EMPTY, done: rules.finished(placed) }
        : { state: { placed, hover: null } };
    }
    default:
      return { state: { ...state, hover: event.at } };
  }
}

/** Volume by discs: both ends of the annulus, then the apex; a first outline follows, to be dragged. */
export const discs = clicksTool({
  id: "discs",
  join: "closed",
  hints: ["One end of the annulus", "The other end of the annulus", "The apex"],
  finished: ([one, other, apex]) =>
    one && other && apex ? chamberOutline(one, other, apex) : [],
});

/** An angle, with its corner second. Shown, never saved: no quantity is an angle. */
export const angle = clicksTool({
  id: "angle",
  join: "corner",
  hints: ["A point on one side", "The corner", "A point on the other side"],
  finished: (placed) => placed,
});
