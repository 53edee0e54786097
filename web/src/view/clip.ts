import type { Memory } from "./memory";
import { unpack } from "./pack";

/** Where frames come from. */
export interface FrameSource {
  readonly key: string;
  readonly frames: number;
  readonly frame_bytes: number;
  frame(at: number): Promise<Blob>;
  pack(from: number, count: number): Promise<ArrayBuffer>;
}

type Decode = (blob: Blob) => Promise<ImageBitmap>;

const PACK_FRAMES = 12;
const AHEAD_FRAMES = 24; // decoded before they are due: 0.4 to 0.8 s of a usual clip
const AT_ONCE = 2; // packs on their way together
const RETRY_MS = 1500;

/** The frames of one image: fetched in packs, decoded ahead of the playhead, held to a bound. */
export class Clip {
  private readonly coming = new Map<string, Promise<void>>();
  private decoding = new Set<number>();
  private at = 0;
  private isClosed = false;
  private retry: ReturnType<typeof setTimeout> | null = null;

  constructor(
    private readonly source: FrameSource,
    private readonly memory: Memory,
    private readonly isReady: (frame: number) => void,
    private readonly decode: Decode = (blob) => createImageBitmap(blob),
  ) {}

  get frames() {
    return this.source.frames;
  }

  bitmap(frame: number): ImageBitmap | undefined {
    return this.memory.decoded.get(this.key(frame));
  }

  /** How many frames are here in stored form, for the transport to show. */
  get loaded() {
    let count = 0;
    for (let frame = 0; frame < this.frames; frame += 1)
      if (this.memory.stored.has(this.key(frame))) count += 1;
    return count;
  }

  /** Make a frame ready, and those after it. */
  want(frame: number) {
    this.at = frame;
    if (this.isClosed) return;
    if (!this.isHere(frame) && this.coming.size === 0)
      this.fetch(`f${frame}`, async () => {
        this.keep(frame, await this.source.frame(frame));
        this.decodeAhead();
      });
    this.decodeAhead();
    this.fetchAhead();
  }

  close() {
    this.isClosed = true;
    if (this.retry !== null) clearTimeout(this.retry);
  }

  private key(frame: number) {
    return `${this.source.key}/${frame}`;
  }

  private isHere(frame: number) {
    return this.memory.stored.has(this.key(frame)) || this.memory.decoded.has(this.key(frame));
  }

  private keep(frame: number, blob: Blob) {
    this.memory.stored.put(this.key(frame), blob, blob.size, (key) => this.isNear(key));
  }

  private *ahead(count: number) {
    for (let step = 0; step < Math.min(count, this.frames); step += 1)
      yield (this.at + step) % this.frames;
  }

  private isNear(key: string) {
    const frame = Number(key.slice(key.lastIndexOf("/") + 1));
    const gap = (frame - this.at + this.frames) % this.frames;
    return key.startsWith(`${this.source.key}/`) && gap < this.window();
  }

  private window() {
    const most = Math.floor(this.memory.decoded.most_bytes / 2 / this.source.frame_bytes);
    return Math.max(2, Math.min(AHEAD_FRAMES, most));
  }

  private decodeAhead() {
    for (const frame of this.ahead(this.window())) {
      const blob = this.memory.stored.get(this.key(frame));
      if (blob === undefined || this.decoding.has(frame) || this.memory.decoded.has(this.key(frame)))
        continue;
      this.decoding.add(frame);
      void this.decodeOne(frame, blob);
    }
  }

  private async decodeOne(frame: number, blob: Blob) {
    try {
      const bitmap = await this.decode(blob);
      if (this.isClosed) return bitmap.close();
      const bytes = bitmap.width * bitmap.height * 4;
      this.memory.decoded.put(this.key(frame), bitmap, bytes, (key) => this.isNear(key));
      this.isReady(frame);
    } catch {
      // A frame that no browser can decode stays blank; the others go on.
    } finally {
      this.decoding.delete(frame);
    }
  }

  private fetchAhead() {
    for (const frame of this.ahead(this.frames)) {
      if (this.coming.size >= AT_ONCE) return;
      if (this.memory.stored.has(this.key(frame))) continue;
      if (this.memory.stored.bytes >= this.memory.stored.most_bytes * 0.95 && !this.isDue(frame)) return;
      const from = frame - (frame % PACK_FRAMES);
      this.fetch(`p${from}`, () => this.fetchPack(from));
    }
  }

  private isDue(frame: number) {
    return (frame - this.at + this.frames) % this.frames < this.window();
  }

  private async fetchPack(from: number) {
    const count = Math.min(PACK_FRAMES, this.frames - from);
    const frames = unpack(await this.source.pack(from, count));
    frames.forEach((bytes, step) => this.keep(from + step, new Blob([bytes], { type: "image/jpeg" })));
    if (frames.length === 0) throw new Error("an empty pack");
    this.decodeAhead();
  }

  private fetch(name: string, load: () => Promise<void>) {
    if (this.coming.has(name)) return;
    const done = (ok: boolean) => {
      this.coming.delete(name);
      if (this.isClosed) return;
      if (ok) this.fetchAhead();
      else this.retry ??= setTimeout(() => this.tryAgain(), RETRY_MS);
    };
    this.coming.set(name, load().then(() => done(true), () => done(false)));
  }

  private tryAgain() {
    this.retry = null;
    this.want(this.at);
  }
}
