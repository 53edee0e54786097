import type { ImagePoint } from "../geometry/spaces";

/** What a hand or a key does. `reach_px` is how near counts as "on", in image pixels. */
export type ToolEvent =
  | { readonly type: "down" | "move" | "up"; readonly at: ImagePoint; readonly reach_px: number }
  | { readonly type: "finish" }
  | { readonly type: "back" }
  | { readonly type: "cancel" };

export interface Step<State> {
  readonly state: State;
  /** Set once, when the gesture is complete. */
  readonly done?: readonly ImagePoint[];
}

/** How the points are joined when they are drawn. */
export type Join = "line" | "closed" | "time" | "depth" | "mark" | "corner";

/** A gesture as a pure function: no DOM, no fetch, no units. */
export interface Tool<State> {
  readonly id: string;
  readonly start: State;
  readonly join: Join;
  step(state: State, event: ToolEvent): Step<State>;
  /** What to draw now; the last point is the one being placed. */
  points(state: State): readonly ImagePoint[];
  /** What to do next, in a few words. */
  hint(state: State): string;
}

/** Any tool, its state kept closed. */
// eslint-disable-next-line @typescript-eslint/no-explicit-any
export type AnyTool = Tool<any>;

export const isPointer = (
  event: ToolEvent,
): event is Extract<ToolEvent, { at: ImagePoint }> => "at" in event;
