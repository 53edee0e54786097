import type { Size, View } from "../geometry/spaces";

/** How bright and how steep; 1 leaves the picture as stored. Hues never change. */
export interface Tone {
  readonly brightness: number;
  readonly contrast: number;
}

export const PLAIN: Tone = { brightness: 1, contrast: 1 };

export const toneFilter = ({ brightness, contrast }: Tone) =>
  brightness === 1 && contrast === 1 ? "none" : `brightness(${brightness}) contrast(${contrast})`;

export function drawFrame(
  ctx: CanvasRenderingContext2D,
  bitmap: CanvasImageSource,
  frame: Size,
  view: View,
  tone: Tone,
) {
  ctx.filter = toneFilter(tone);
  // From three screen pixels a pixel on, edges are placed by single pixels: show them.
  ctx.imageSmoothingEnabled = view.scale < 3;
  ctx.imageSmoothingQuality = "high";
  ctx.drawImage(bitmap, view.left, view.top, frame.width * view.scale, frame.height * view.scale);
  ctx.filter = "none";
}
