import { toScreen, type ImagePoint, type Size, type View } from "../geometry/spaces";
import { drawFrame, type Tone } from "./frame";
import { INKS } from "./inks";
import { drawMarks, type Mark } from "./marks";

const RADIUS_PX = 62;
const GAP_PX = 30; // clear of the finger
const TIMES = 3.5;

export interface Looked {
  readonly at: ImagePoint;
  readonly bitmap: CanvasImageSource;
  readonly frame: Size;
  readonly tone: Tone;
  readonly marks: readonly Mark[];
}

/** A round glass beside the point being placed: above it where there is room, else below. */
export function drawLoupe(ctx: CanvasRenderingContext2D, looked: Looked, view: View, stage: Size) {
  const [x, y] = toScreen(looked.at, view);
  const [cx, cy] = glassSpot(x, y, stage);
  const scale = Math.max(view.scale * TIMES, 4);
  const glass: View = {
    scale,
    left: cx - (looked.at[0] + 0.5) * scale,
    top: cy - (looked.at[1] + 0.5) * scale,
  };
  ctx.save();
  ctx.beginPath();
  ctx.arc(cx, cy, RADIUS_PX, 0, 2 * Math.PI);
  ctx.fillStyle = "#000";
  ctx.fill();
  ctx.clip();
  drawFrame(ctx, looked.bitmap, looked.frame, glass, looked.tone);
  drawMarks(ctx, looked.marks.map((mark) => ({ ...mark, label: undefined, handles: false })), glass);
  ctx.restore();
  ring(ctx, cx, cy);
}

export function glassSpot(x: number, y: number, stage: Size): readonly [number, number] {
  const reach = RADIUS_PX + GAP_PX;
  const cy = y - reach - RADIUS_PX < 0 ? y + reach : y - reach;
  return [Math.min(Math.max(x, RADIUS_PX + 4), stage.width - RADIUS_PX - 4), cy];
}

function ring(ctx: CanvasRenderingContext2D, cx: number, cy: number) {
  ctx.lineWidth = 2;
  ctx.strokeStyle = INKS.chosen;
  ctx.beginPath();
  ctx.arc(cx, cy, RADIUS_PX, 0, 2 * Math.PI);
  ctx.stroke();
  ctx.lineWidth = 1;
  ctx.beginPath();
  for (const [dx, dy] of [[1, 0], [0, 1], [-1, 0], [0, -1]] as const) {
    ctx.moveTo(cx + dx * 7, cy + dy * 7);
    ctx.lineTo(cx + dx * 18, cy + dy * 18);
  }
  ctx.stroke();
}
