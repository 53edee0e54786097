declare const space: unique symbol;
type Point<S extends string> = readonly [x: number, y: number] & { readonly [space]: S };

/** Pixels of the stage on the screen, from its top left corner. */
export type ScreenPoint = Point<"screen">;
/** Pixels of the stored frame; pixel centres are integers. The only space that is saved. */
export type ImagePoint = Point<"image">;

/** Where the frame is drawn: image (0, 0) sits at `left`, `top`; `scale` is screen over image. */
export interface View {
  readonly left: number;
  readonly top: number;
  readonly scale: number;
}

export interface Size {
  readonly width: number;
  readonly height: number;
}

export const screenPoint = (x: number, y: number) => [x, y] as unknown as ScreenPoint;
export const imagePoint = (x: number, y: number) => [x, y] as unknown as ImagePoint;

/** Read a pair that was saved or sent. */
export const savedPoint = (pair: readonly number[]) => imagePoint(pair[0] ?? 0, pair[1] ?? 0);

// A pixel's centre is an integer, its left edge half a pixel before: hence the halves.
export const toScreen = ([x, y]: ImagePoint, view: View) =>
  screenPoint(view.left + (x + 0.5) * view.scale, view.top + (y + 0.5) * view.scale);

export const toImage = ([x, y]: ScreenPoint, view: View) =>
  imagePoint((x - view.left) / view.scale - 0.5, (y - view.top) / view.scale - 0.5);

/** Keep a point on the frame. */
export const onFrame = ([x, y]: ImagePoint, frame: Size) =>
  imagePoint(clamp(x, 0, frame.width - 1), clamp(y, 0, frame.height - 1));

export const clamp = (value: number, low: number, high: number) =>
  Math.min(Math.max(value, low), high);
