import { clamp, toImage, type ScreenPoint, type Size, type View } from "./spaces";

const MOST = 32; // screen pixels for one image pixel: enough to see a sub-pixel step
const LEAST_OF_FIT = 0.5; // the frame never shrinks below half of the fitted size

/** The view that shows the whole frame, centred. */
export function fit(frame: Size, stage: Size): View {
  const scale = Math.max(Math.min(stage.width / frame.width, stage.height / frame.height), 1e-6);
  return {
    scale,
    left: (stage.width - frame.width * scale) / 2,
    top: (stage.height - frame.height * scale) / 2,
  };
}

/** Zoom by a factor; the image point under `at` stays under it. */
export function zoom(view: View, factor: number, at: ScreenPoint, fitted: View): View {
  const scale = clamp(view.scale * factor, fitted.scale * LEAST_OF_FIT, MOST);
  const [x, y] = toImage(at, view);
  return { scale, left: at[0] - (x + 0.5) * scale, top: at[1] - (y + 0.5) * scale };
}

export const pan = (view: View, dx: number, dy: number): View => ({
  ...view,
  left: view.left + dx,
  top: view.top + dy,
});

/** Two fingers: zoom by their spread, pan by their middle. */
export function pinch(
  view: View,
  before: readonly [ScreenPoint, ScreenPoint],
  after: readonly [ScreenPoint, ScreenPoint],
  fitted: View,
): View {
  const [from, to] = [middle(before), middle(after)];
  const moved = pan(view, to[0] - from[0], to[1] - from[1]);
  return zoom(moved, gap(after) / Math.max(gap(before), 1), to, fitted);
}

const middle = ([a, b]: readonly [ScreenPoint, ScreenPoint]) =>
  [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2] as unknown as ScreenPoint;

const gap = ([a, b]: readonly [ScreenPoint, ScreenPoint]) => Math.hypot(a[0] - b[0], a[1] - b[1]);
