import { getJson } from "../api/fetching";
import type { Image, ImageDetail } from "../api/types";
import { PLAIN, type Tone } from "../draw/frame";
import { screenPoint, type ScreenPoint, type Size, type View } from "../geometry/spaces";
import { fit, pan, zoom } from "../geometry/zoom";
import { Clip } from "../view/clip";
import { assumedTimes } from "../view/clock";
import { memory } from "../view/memory";
import { framesFrom } from "../view/pictures";
import { STOPPED, Timeline, type Playing } from "../view/player";

const NOTHING: Size = { width: 1, height: 1 };

/** One picture on the screen: what is open, which frame, how it is looked at. */
export class Pane {
  study = $state("");
  image = $state.raw<Image | null>(null);
  detail = $state.raw<ImageDetail | null>(null);
  playing = $state.raw<Playing>(STOPPED);
  timeline = $state.raw(new Timeline({ times_s: [], r_times_s: [] }));
  view = $state.raw<View>({ left: 0, top: 0, scale: 1 });
  tone = $state.raw<Tone>(PLAIN);
  /** Counts arrivals of frames: what reads it draws again. */
  arrived = $state(0);
  isBlank = $state(true);
  private stage: Size = NOTHING;
  private isFitted = true;
  private clip: Clip | null = null;

  get frame() {
    return this.playing.frame;
  }

  get size(): Size {
    return { width: this.image?.columns ?? 1, height: this.image?.rows ?? 1 };
  }

  get bitmap() {
    return this.clip?.bitmap(this.frame);
  }

  get loaded() {
    return this.clip?.loaded ?? 0;
  }

  get hasBeats() {
    return this.timeline.beats.length > 0;
  }

  get hasTimes() {
    return (this.detail?.frame_times_s.length ?? 0) > 1;
  }

  async open(study: string, image: Image, frame = 0) {
    const isSame = study === this.study && image.n === this.image?.n;
    if (isSame) {
      this.image = image;
      return this.to(frame);
    }
    this.clip?.close();
    this.study = study;
    this.image = image;
    this.detail = null;
    this.isBlank = true;
    this.tone = PLAIN;
    this.clip = new Clip(framesFrom(study, image), memory, (at) => this.landed(at));
    this.take([], [], image.frames);
    this.playing = { ...STOPPED, speed: this.playing.speed };
    this.to(frame);
    this.refit();
    const detail = await getJson<ImageDetail>(`/api/studies/${study}/images/${image.n}`);
    if (this.study !== study || this.image?.n !== image.n) return;
    this.detail = detail;
    this.take(detail.frame_times_s, detail.r_wave_times_s, image.frames);
    this.to(this.frame);
  }

  /** Go to a frame and stop. */
  to(frame: number) {
    this.set({ ...this.timeline.to(this.playing, frame), isPlaying: false });
  }

  set(playing: Playing) {
    const hasMoved = playing.frame !== this.playing.frame;
    this.playing = playing;
    this.clip?.want(playing.frame);
    if (this.isBlank && this.bitmap !== undefined) this.isBlank = false;
    if (hasMoved) this.arrived += 1;
  }

  /** Let time pass; hold the picture while the next frame is still on its way. */
  tick(passed_s: number) {
    const next = this.timeline.after(this.playing, passed_s);
    if (next.frame !== this.playing.frame && this.clip?.bitmap(next.frame) === undefined)
      return void this.clip?.want(next.frame);
    this.set(next);
  }

  resize(stage: Size) {
    this.stage = stage;
    if (this.isFitted) this.refit();
  }

  get stageSize() {
    return this.stage;
  }

  refit() {
    this.isFitted = true;
    this.view = fit(this.size, this.stage);
  }

  look(view: View) {
    this.isFitted = false;
    this.view = view;
  }

  zoomBy(factor: number, at?: ScreenPoint) {
    const middle = screenPoint(this.stage.width / 2, this.stage.height / 2);
    this.look(zoom(this.view, factor, at ?? middle, this.fitted));
  }

  panBy(dx: number, dy: number) {
    this.look(pan(this.view, dx, dy));
  }

  get fitted() {
    return fit(this.size, this.stage);
  }

  close() {
    this.clip?.close();
    this.clip = null;
    this.study = "";
    this.image = null;
  }

  private landed(frame: number) {
    if (frame !== this.frame) return;
    this.isBlank = false;
    this.arrived += 1;
  }

  private take(times_s: readonly number[], r_times_s: readonly number[], frames: number) {
    const times = times_s.length === frames ? times_s : assumedTimes(frames);
    this.timeline = new Timeline({ times_s: times, r_times_s });
  }
}
