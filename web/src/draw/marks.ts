import { toScreen, type ImagePoint, type View } from "../geometry/spaces";
import type { Join } from "../tools/tool";
import { INKS, type Ink } from "./inks";

/** One thing to draw over the frame. */
export interface Mark {
  readonly points: readonly ImagePoint[];
  readonly join: Join | "trace";
  readonly ink: Ink;
  readonly label?: string | undefined;
  /** Which point is held or chosen by the keyboard. */
  readonly held?: number | undefined;
  readonly handles: boolean;
  /** Round and hollow: the program's. Square: a hand's. */
  readonly isByHand?: boolean;
  readonly isStrong?: boolean;
}

type Context = CanvasRenderingContext2D;
type Spot = readonly [number, number];

const HANDLE_PX = 4.5;
const SERIF_PX = 7; // half the cross stroke at the ends of a caliper
const LABEL = "600 14px system-ui, sans-serif";

export function drawMarks(ctx: Context, marks: readonly Mark[], view: View) {
  for (const mark of marks) drawMark(ctx, mark, view);
}

function drawMark(ctx: Context, mark: Mark, view: View) {
  const spots = mark.points.map((point) => toScreen(point, view) as unknown as Spot);
  if (spots.length === 0) return;
  const width = mark.join === "trace" ? 1.25 : mark.isStrong ? 2.25 : 1.5;
  const path = () => tracePath(ctx, mark, spots);
  ctx.lineJoin = "round";
  ctx.lineCap = "round";
  ctx.setLineDash(mark.ink === "left_out" ? [5, 5] : []);
  stroke(ctx, path, INKS.casing, width + 2);
  ctx.globalAlpha = mark.join === "trace" ? 0.75 : 1;
  stroke(ctx, path, INKS[mark.ink], width);
  ctx.globalAlpha = 1;
  ctx.setLineDash([]);
  if (mark.handles) spots.forEach((spot, at) => drawHandle(ctx, spot, mark, at));
  if (mark.label) drawLabel(ctx, mark.label, labelSpot(spots, mark), INKS[mark.ink]);
}

function stroke(ctx: Context, path: () => void, colour: string, width: number) {
  ctx.beginPath();
  path();
  ctx.strokeStyle = colour;
  ctx.lineWidth = width;
  ctx.stroke();
}

function tracePath(ctx: Context, { join }: Mark, spots: readonly Spot[]) {
  const [first, ...rest] = spots;
  if (first === undefined) return;
  if (join === "mark") {
    cross(ctx, first);
    const last = rest[0];
    if (last) cross(ctx, last);
    return;
  }
  ctx.moveTo(first[0], first[1]);
  for (const [x, y] of rest) ctx.lineTo(x, y);
  if (join === "closed" && rest.length > 1) ctx.closePath();
  if (join === "depth") for (const [x, y] of spots) line(ctx, x - SERIF_PX, y, x + SERIF_PX, y);
  if (join === "time") for (const [x, y] of spots) line(ctx, x, y - SERIF_PX, x, y + SERIF_PX);
}

function cross(ctx: Context, [x, y]: Spot) {
  line(ctx, x - SERIF_PX, y, x + SERIF_PX, y);
  line(ctx, x, y - SERIF_PX, x, y + SERIF_PX);
}

function line(ctx: Context, x0: number, y0: number, x1: number, y1: number) {
  ctx.moveTo(x0, y0);
  ctx.lineTo(x1, y1);
}

/** The held one is filled. */
function drawHandle(ctx: Context, [x, y]: Spot, { ink, held, isByHand }: Mark, at: number) {
  const size = held === at ? HANDLE_PX + 2 : HANDLE_PX;
  ctx.beginPath();
  if (isByHand) ctx.rect(x - size, y - size, size * 2, size * 2);
  else ctx.arc(x, y, size, 0, 2 * Math.PI);
  ctx.fillStyle = held === at ? INKS[ink] : INKS.casing;
  ctx.fill();
  ctx.strokeStyle = INKS[ink];
  ctx.lineWidth = 1.5;
  ctx.stroke();
}

function labelSpot(spots: readonly Spot[], { join, ink }: Mark): Spot {
  const last = spots[spots.length - 1] ?? [0, 0];
  if (ink !== "draft" && (join === "depth" || join === "line")) {
    const first = spots[0] ?? last;
    return [(first[0] + last[0]) / 2 + 12, (first[1] + last[1]) / 2];
  }
  // Below the point: the loupe stands above it.
  return [last[0] + 14, last[1] + (ink === "draft" ? 22 : -12)];
}

function drawLabel(ctx: Context, text: string, [x, y]: Spot, colour: string) {
  ctx.font = LABEL;
  ctx.textBaseline = "middle";
  const width = ctx.measureText(text).width + 12;
  const left = Math.min(x, ctx.canvas.width / (window.devicePixelRatio || 1) - width - 4);
  ctx.fillStyle = INKS.casing;
  ctx.beginPath();
  ctx.roundRect(left, y - 12, width, 24, 5);
  ctx.fill();
  ctx.fillStyle = colour;
  ctx.fillText(text, left + 6, y + 0.5);
}
