import { distancePx, simplify } from "../geometry/shapes";
import type { ImagePoint } from "../geometry/spaces";
import type { Join, Step, Tool, ToolEvent } from "./tool";

/** A line of many points, by clicks, by one drag, or both in turn. */
export interface Path {
  readonly points: readonly ImagePoint[];
  readonly hover: ImagePoint | null;
  /** Points of the drag now under way; null when no button is down. */
  readonly drag: readonly ImagePoint[] | null;
}

const EMPTY: Path = { points: [], hover: null, drag: null };
const DRAG_STEP_PX = 2; // closer points of a drag say nothing new
const TWICE_PX = 0.5; // a second press in the same place ends the line
const SLACK_PX = 0.35; // how far a drag's simplified line may lie from what was drawn

interface Rules {
  readonly id: string;
  readonly join: Join;
  readonly fewest: number;
  /** Whether a click on the first point ends the path. */
  readonly closes: boolean;
  readonly allows?: (last: ImagePoint, next: ImagePoint) => boolean;
}

function pathTool(rules: Rules): Tool<Path> {
  return {
    id: rules.id,
    join: rules.join,
    start: EMPTY,
    step: (state, event) => step(state, event, rules),
    points: (state) => drawn(state),
    hint: ({ points }) =>
      points.length < rules.fewest
        ? `Click along the edge or drag: ${rules.fewest - points.length} more`
        : "Go on, or Enter to finish",
  };
}

const drawn = ({ points, hover, drag }: Path) => [
  ...points,
  ...(drag ?? (hover === null || points.length === 0 ? [] : [hover])),
];

function step(state: Path, event: ToolEvent, rules: Rules): Step<Path> {
  switch (event.type) {
    case "cancel":
      return { state: EMPTY };
    case "back":
      return { state: { ...state, points: state.points.slice(0, -1), drag: null } };
    case "finish":
      return finish(state, rules);
    case "down":
      return press(state, event.at, event.reach_px, rules);
    case "move":
      return { state: follow(state, event.at, rules) };
    case "up":
      return release(state, event.reach_px, rules);
  }
}

function press(state: Path, at: ImagePoint, reach_px: number, rules: Rules): Step<Path> {
  const first = state.points[0];
  const last = state.points[state.points.length - 1];
  const isWhole = state.points.length >= rules.fewest;
  const comesHome = rules.closes && first !== undefined && distancePx(first, at) <= reach_px;
  const isTwice = last !== undefined && distancePx(last, at) < TWICE_PX;
  if (isWhole && (comesHome || isTwice)) return finish(state, rules);
  return isAllowed(state.points, at, rules) ? { state: { ...state, drag: [at] } } : { state };
}

function follow(state: Path, at: ImagePoint, rules: Rules): Path {
  if (state.drag === null) return { ...state, hover: at };
  const last = state.drag[state.drag.length - 1];
  if (last !== undefined && distancePx(last, at) < DRAG_STEP_PX) return state;
  return isAllowed(state.drag, at, rules) ? { ...state, drag: [...state.drag, at] } : state;
}

function release(state: Path, reach_px: number, rules: Rules): Step<Path> {
  if (state.drag === null) return { state };
  const line = simplify(state.drag, SLACK_PX);
  const points = [...state.points, ...line];
  const next: Path = { points, hover: null, drag: null };
  const first = points[0];
  const last = points[points.length - 1];
  const wasDragged = line.length >= 3 && points.length >= rules.fewest;
  if (!wasDragged || first === undefined || last === undefined) return { state: next };
  if (!rules.closes) return { state: next };
  return distancePx(first, last) <= reach_px ? finish(next, rules) : { state: next };
}

const finish = (state: Path, rules: Rules): Step<Path> =>
  state.points.length < rules.fewest ? { state } : { state: EMPTY, done: state.points };

function isAllowed(points: readonly ImagePoint[], at: ImagePoint, rules: Rules) {
  const last = points[points.length - 1];
  return last === undefined || rules.allows === undefined || rules.allows(last, at);
}

/** The outline of a chamber; a click on its first point closes it. */
export const outline = pathTool({ id: "outline", join: "closed", fewest: 3, closes: true });

/** The edge of a spectrum; time only goes forward. */
export const envelope = pathTool({
  id: "envelope",
  join: "line",
  fewest: 3,
  closes: false,
  allows: (last, next) => next[0] > last[0],
});
