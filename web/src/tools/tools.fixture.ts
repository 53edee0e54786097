import type { ImagePoint } from "../geometry/spaces";
import { toolFor } from "./choose";
import type { Tool, ToolEvent } from "./tool";

type Given =
  | { readonly type: "down" | "move" | "up"; readonly at: ImagePoint }
  | { readonly type: "finish" | "back" | "cancel" };

/** Feed events to a tool; what it finished with, or null. */
export function feed<State>(tool: Tool<State>, events: readonly Given[]) {
  let state = tool.start;
  let done: readonly ImagePoint[] | null = null;
  for (const event of events) {
    const step = tool.step(state, { reach_px: 6, ...event } as ToolEvent);
    state = step.state;
    if (step.done !== undefined) done = step.done;
  }
  return done;
}

export const choose = (quantity: string, kind: string, region: string) =>
  toolFor(quantity, kind, region)?.id ?? null;
