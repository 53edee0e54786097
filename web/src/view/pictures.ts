import { getBlob, getBytes } from "../api/fetching";
import type { FrameSource } from "./clip";

interface Picture {
  readonly n: number;
  readonly frames: number;
  readonly rows: number;
  readonly columns: number;
}

/** Frames of one image from the server. */
export function framesFrom(study: string, { n, frames, rows, columns }: Picture): FrameSource {
  const root = `/api/studies/${study}/images/${n}/frames`;
  return {
    key: `${study}/${n}`,
    frames,
    frame_bytes: rows * columns * 4,
    frame: (at) => getBlob(`${root}/${at}`),
    pack: (from, count) => getBytes(`${root}?from=${from}&count=${count}`),
  };
}
