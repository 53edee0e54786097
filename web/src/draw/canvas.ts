import type { Size } from "../geometry/spaces";

/** Size a canvas for the screen's own pixels, and clear it; what follows is in CSS pixels. */
export function begin(canvas: HTMLCanvasElement, stage: Size): CanvasRenderingContext2D | null {
  const dense = window.devicePixelRatio || 1;
  const [width, height] = [Math.round(stage.width * dense), Math.round(stage.height * dense)];
  if (canvas.width !== width || canvas.height !== height) {
    canvas.width = width;
    canvas.height = height;
  }
  const ctx = canvas.getContext("2d");
  if (ctx === null) return null;
  ctx.setTransform(dense, 0, 0, dense, 0, 0);
  ctx.clearRect(0, 0, stage.width, stage.height);
  return ctx;
}
