import type { Act, Beat, Check, Edit, Image, LabelKind, Measurement } from "../api/types";
import { beatPhase, timeAtPhase } from "../view/beats";
import { frameAt } from "../view/clock";
import { offers, possible } from "../view/offers";
import type { Chosen, Place } from "../view/scene";
import { differences, NONE, type Differences } from "./changes";
import { Gesture } from "./gesture.svelte";
import { Pane } from "./pane.svelte";
import { ScaleDraft } from "./scale.svelte";
import { Session, tab } from "./session.svelte";
import { groupOf } from "./words";

export type Dialog = "label" | "measure" | "keys" | "visit" | "export" | "mmode" | "scale" | null;
export type Tab = "numbers" | "checks" | "findings";

const WORST: Record<Check["verdict"], number> = { fails: 0, doubtful: 1, "not assessed": 3, holds: 2 };

/** What one person is doing at the desk: which picture, which number, which gesture. */
export class Desk {
  readonly session: Session;
  readonly gesture = new Gesture(this);
  readonly panes = [new Pane(), new Pane()] as const;
  readonly scale = new ScaleDraft();
  active = $state<0 | 1>(0);
  isBeside = $state(false);
  isAligned = $state(true);
  isDrawing = $state(true);
  isSnapping = $state(true);
  chosen = $state.raw<Chosen | null>(null);
  dialog = $state<Dialog>(null);
  tab = $state<Tab>("numbers");
  /** What refusing the chosen number would change. */
  ifRefused = $state.raw<Differences>(NONE);
  private asked = 0;

  constructor(study: string) {
    this.session = new Session(study);
  }

  get pane() {
    return this.panes[this.isBeside ? this.active : 0];
  }

  get reading() {
    return this.session.reading;
  }

  get place(): Place | null {
    const { image, frame } = this.pane;
    const { reading, catalogue } = this.session;
    if (image === null || reading === null || catalogue === null) return null;
    if (this.pane.study !== this.session.id) return null;
    return { reading, catalogue, image: this.imageOf(image.n) ?? image, frame };
  }

  /** Images in the order of their groups, as the thumbnails stand. */
  get groups(): readonly (readonly [string, readonly Image[]])[] {
    const groups = new Map<string, Image[]>();
    for (const image of this.reading?.images ?? [])
      groups.set(groupOf(image), [...(groups.get(groupOf(image)) ?? []), image]);
    const order = this.session.catalogue?.views.map((one) => one.label) ?? [];
    const rank = (name: string) => order.findIndex((view) => view.startsWith(name));
    return [...groups].sort((a, b) => rank(a[0]) - rank(b[0]));
  }

  get images() {
    return this.groups.flatMap(([, images]) => images);
  }

  get checks() {
    return [...(this.reading?.checks ?? [])].sort(
      (a, b) =>
        WORST[a.verdict] - WORST[b.verdict] ||
        (b.probability_unusable ?? 0) - (a.probability_unusable ?? 0),
    );
  }

  get offers() {
    const place = this.place;
    return place ? offers(place.catalogue, place.reading, place.image) : [];
  }

  get possible() {
    const place = this.place;
    return place ? possible(place.catalogue, place.image) : [];
  }

  get chosenMeasurement() {
    return this.findMeasurement(this.chosen?.measurement ?? "");
  }

  imageOf = (n: number) => this.reading?.images.find((image) => image.n === n);
  fileOf = (file: string) => this.reading?.images.find((image) => image.file === file);
  quantity = (id: string) => this.session.catalogue?.quantities.find((one) => one.id === id);

  findMeasurement(id: string): Measurement | undefined {
    return (
      this.reading?.measurements.find((one) => one.id === id) ??
      this.session.state?.refused?.find((one) => one.id === id)
    );
  }

  findBeat(id: string): Beat | null {
    for (const one of this.reading?.measurements ?? []) {
      const beat = one.beats.find((each) => each.id === id);
      if (beat) return beat;
    }
    return null;
  }

  // ---------------------------------------------------------------- going places

  async show(image: Image, frame = 0, study = this.session.id) {
    this.gesture.cancel();
    this.gesture.said = null;
    try {
      await this.pane.open(study, image, frame);
    } catch (error) {
      this.session.say(error instanceof Error ? error.message : String(error), true);
    }
  }

  showBy(step: 1 | -1) {
    const images = this.images;
    const at = images.findIndex((one) => one.n === this.pane.image?.n);
    const next = images[(at + step + images.length) % images.length];
    if (next) void this.show(next);
  }

  /** Choose a number and, where wanted, go to the picture it was read on. */
  choose(measurement: string, beat: string | null = null, goes = true) {
    const isNew = this.chosen?.measurement !== measurement;
    this.chosen = { measurement, beat };
    if (isNew) void this.askRefused(measurement);
    const found = this.findMeasurement(measurement);
    if (!goes || !found) return;
    const there = found.beats.find((one) => one.id === beat) ?? this.nearestBeat(found);
    const image = there && this.imageOf(there.n);
    if (image) void this.show(image, there.frame);
  }

  /** A beat on the picture that is open, else the first that is used. */
  private nearestBeat({ beats }: Measurement) {
    const here = beats.filter((one) => one.n === this.pane.image?.n);
    return here.find((one) => one.used) ?? beats.find((one) => one.used) ?? beats[0];
  }

  chooseDrawn(quantity: string, n: number) {
    const found = this.reading?.measurements.find(
      (one) => one.quantity === quantity && one.method === "caliper" && one.beats.some((beat) => beat.n === n),
    );
    if (found) this.choose(found.id, null, false);
  }

  chooseBy(step: 1 | -1) {
    const all = this.reading?.measurements ?? [];
    const at = all.findIndex((one) => one.id === this.chosen?.measurement);
    const next = all[(at + step + all.length) % all.length];
    if (next) this.choose(next.id);
  }

  /** The picture that caused a check, with the number it is about. */
  showCheck(check: Check) {
    const about = this.reading?.measurements.find(
      (one) => check.about.includes(one.quantity) && one.beats.some((beat) => check.files.includes(beat.file)),
    ) ?? this.reading?.measurements.find((one) => check.about.includes(one.quantity));
    if (about) return this.choose(about.id);
    const image = this.fileOf(check.files[0] ?? "");
    if (image) void this.show(image);
  }

  private async askRefused(measurement: string) {
    const asked = (this.asked += 1);
    this.ifRefused = NONE;
    if (this.findMeasurement(measurement)?.decision.state === "refused") return;
    try {
      const act: Act = { kind: "decide", payload: { measurement, state: "refused" } };
      const { changed } = await this.session.preview(act);
      if (asked === this.asked && this.reading) this.ifRefused = differences(this.reading, changed);
    } catch {
      // Without an answer nothing is said about refusing; the number itself stands.
    }
  }

  // ---------------------------------------------------------------- doing things

  decide(state: "accepted" | "refused" | "open") {
    const found = this.chosenMeasurement;
    if (!found) return;
    const payload = { measurement: found.id, state, value: found.value };
    void this.session.act({ kind: "decide", payload });
  }

  acceptAll() {
    void this.session.act({ kind: "accept_unremarkable", payload: {} });
  }

  /** What would be undone: this window's newest act, else the newest of all. */
  get undoable(): Edit | undefined {
    const done = (this.session.state?.edits ?? []).filter(
      (one) => !one.undone && one.kind !== "undo" && one.kind !== "redo",
    );
    return done.findLast((one) => one.who === tab) ?? done[done.length - 1];
  }

  undo = () => {
    const newest = this.undoable;
    const isMine = newest?.who === tab || this.session.waiting.length > 0;
    if (isMine) void this.session.act({ kind: "undo", payload: {} });
    else if (newest) void this.session.act({ kind: "undo", payload: { version: newest.version } });
    else this.session.say("Nothing to undo");
  };
  redo = () => void this.session.act({ kind: "redo", payload: {} });

  label(kind: LabelKind, label: string | null) {
    const image = this.pane.image?.n;
    if (image !== undefined) void this.session.act({ kind: "label", payload: { image, [kind]: label } });
  }

  useBeat(beat: string, used: boolean) {
    void this.session.act({ kind: "beat", payload: { beat, used } });
  }

  removeChosen() {
    const found = this.chosenMeasurement;
    const beat = found?.beats.find((one) => one.id === this.chosen?.beat) ?? found?.beats[0];
    if (found?.method !== "caliper" || beat === undefined) return;
    this.chosen = null;
    void this.session.act({ kind: "remove", payload: { beat: beat.id } });
  }

  // ---------------------------------------------------------------- time

  /** Both panes play; the second keeps to the first one's place in the beat. */
  tick(passed_s: number) {
    this.pane.tick(passed_s);
    if (!this.isBeside) return;
    const other = this.panes[this.active === 0 ? 1 : 0];
    if (!this.isAligned) return other.tick(passed_s);
    const { timeline, playing } = this.pane;
    const phase = beatPhase(timeline.timing.r_times_s, playing.time_s);
    const time_s = phase === null ? playing.time_s : timeAtPhase(other.timeline.timing.r_times_s, phase);
    if (time_s === null) return;
    const edges = other.timeline.edges;
    other.set({ ...other.playing, time_s, frame: frameAt(edges, Math.min(time_s, edges[edges.length - 1] ?? 0)) });
  }

  /** Whether the two pictures can be held to the same point of the beat. */
  get canAlign() {
    return this.panes.every((pane) => pane.hasBeats);
  }

  toggleBeside() {
    this.isBeside = !this.isBeside;
    if (!this.isBeside) {
      this.active = 0;
      return;
    }
    this.active = 1;
    const image = this.panes[0].image;
    if (image && this.pane.image === null) void this.pane.open(this.session.id, image);
  }

  close() {
    this.session.close();
    for (const pane of this.panes) pane.close();
  }
}
