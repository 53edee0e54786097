import { Bounded } from "./bounded";

/**
 * All pictures that the pages hold, whatever is open: at most 256 MB of decoded frames (133 of
 * 800 x 600) and 128 MB as they were stored.
 */
export const DECODED_BYTES = 256 * 2 ** 20;
export const STORED_BYTES = 128 * 2 ** 20;

export interface Memory {
  readonly decoded: Bounded<string, ImageBitmap>;
  readonly stored: Bounded<string, Blob>;
}

export const newMemory = (decoded_bytes = DECODED_BYTES, stored_bytes = STORED_BYTES): Memory => ({
  decoded: new Bounded(decoded_bytes, (bitmap: ImageBitmap) => bitmap.close()),
  stored: new Bounded(stored_bytes),
});

export const memory = newMemory();
