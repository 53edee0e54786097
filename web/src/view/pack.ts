const LENGTH_BYTES = 4; // each frame follows its length, big end first

/** Split what the server packed; a torn end is left out. */
export function unpack(pack: ArrayBuffer): readonly Uint8Array<ArrayBuffer>[] {
  const view = new DataView(pack);
  const frames: Uint8Array<ArrayBuffer>[] = [];
  let at = 0;
  while (at + LENGTH_BYTES <= pack.byteLength) {
    const length = view.getUint32(at, false);
    const end = at + LENGTH_BYTES + length;
    if (end > pack.byteLength) break;
    frames.push(new Uint8Array(pack, at + LENGTH_BYTES, length));
    at = end;
  }
  return frames;
}
