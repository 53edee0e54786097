import { LOST, postJson, Refused } from "../api/fetching";
import type { Act, Pair, Snapped } from "../api/types";
import { angleDegrees, distancePx } from "../geometry/shapes";
import { onFrame, type ImagePoint } from "../geometry/spaces";
import { toolFor } from "../tools/choose";
import { angle } from "../tools/corners";
import { drag, grip, moved, nudge, type Grip } from "../tools/drag";
import { cursor, distance } from "../tools/segment";
import { isPointer, type AnyTool, type ToolEvent } from "../tools/tool";
import { estimate } from "../view/estimate";
import { drawnOn, handlesOf, kindOf, mainRegion, regionAt, type Owner } from "../view/scene";
import { differences, NONE, type Differences } from "./changes";
import type { Desk } from "./desk.svelte";
import { figure } from "./words";

/** What the points of a gesture are for. */
export type Purpose =
  | { readonly kind: "quantity"; readonly id: string; readonly replaces?: readonly string[] }
  | { readonly kind: "angle" }
  | { readonly kind: "mmode" }
  | { readonly kind: "scale" };

interface Open {
  readonly tool: AnyTool;
  readonly purpose: Purpose;
  readonly state: unknown;
}

const conventionsIn = (found: Snapped["conventions"]) =>
  found.flatMap(({ name, value, unit }) => (value ? `${name} ${figure(value, 0)} ${unit ?? ""}` : [])).join(", ") || null;

interface Kept {
  readonly purpose: Purpose;
  readonly state: unknown;
  readonly n: number;
  readonly frame: number;
}

const DRAFT = "tableside.draft.";
const SNAPS = ["length", "lateral length"];
const pairs = (points: readonly ImagePoint[]): readonly Pair[] => points.map(([x, y]) => [x, y]);

/** The gesture under way: drawing something new, or dragging a point that is there. */
export class Gesture {
  open = $state.raw<Open | null>(null);
  held = $state.raw<Grip<Owner> | null>(null);
  /** Where the pointer, or the keyboard's pointer, is. */
  at = $state.raw<ImagePoint | null>(null);
  /** What the server says the gesture would change. */
  would = $state.raw<Differences>(NONE);
  elsewhere = $state.raw<ReadonlyMap<string, readonly ImagePoint[]>>(new Map());
  /** Points handed on to a dialog: the line of an M-mode, the two ends of a known length. */
  given = $state.raw<readonly ImagePoint[]>([]);
  said = $state<string | null>(null);
  private pressed: ImagePoint | null = null;
  private asking = false;
  private asked: Act | null = null;

  constructor(private readonly desk: Desk) {}

  get isActive() {
    return this.open !== null || this.held !== null;
  }

  begin(purpose: Purpose) {
    const tool = this.toolOf(purpose);
    if (tool === null) return;
    this.cancel();
    this.said = null;
    this.open = { tool, purpose, state: tool.start };
    const { width, height } = this.desk.pane.size;
    const box = this.image && mainRegion(this.image)?.box;
    const middle = box ? [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2] : [width / 2, height / 2];
    this.at = middle as unknown as ImagePoint;
    this.desk.pane.set({ ...this.desk.pane.playing, isPlaying: false });
  }

  cancel() {
    if (this.open !== null) localStorage.removeItem(DRAFT + this.desk.session.id);
    this.open = null;
    this.held = null;
    this.would = NONE;
    this.asked = null;
  }

  /** One event of the open tool. */
  feed(event: ToolEvent) {
    const open = this.open;
    if (open === null) return;
    if (isPointer(event)) this.at = event.at;
    const step = open.tool.step(open.state, event);
    this.open = { ...open, state: step.state };
    if (step.done) void this.finish(open.purpose, step.done);
    else this.askDraft();
    this.keepDraft();
  }

  /** A drawing that is half done outlives a crash or a reload of the page. */
  private keepDraft() {
    const name = DRAFT + this.desk.session.id;
    const open = this.open;
    if (open === null || open.purpose.kind !== "quantity" || this.draft.length < 2) return localStorage.removeItem(name);
    const { frame, image } = this.desk.pane;
    const kept: Kept = { purpose: open.purpose, state: open.state, n: image?.n ?? 0, frame };
    localStorage.setItem(name, JSON.stringify(kept));
  }

  async restoreDraft() {
    const text = localStorage.getItem(DRAFT + this.desk.session.id);
    const kept = text === null ? null : (JSON.parse(text) as Kept);
    const image = kept && this.desk.imageOf(kept.n);
    if (!kept || !image) return;
    await this.desk.show(image, kept.frame);
    this.begin(kept.purpose);
    if (this.open) this.open = { ...this.open, state: kept.state };
    this.said = "What was half drawn is here again";
  }

  /** The keyboard's press: a click where its pointer is. */
  press(reach_px: number) {
    const at = this.at;
    if (at === null) return;
    for (const type of ["down", "up"] as const) this.feed({ type, at, reach_px });
  }

  /** Points of the shape being drawn now. */
  get draft(): readonly ImagePoint[] {
    return this.open === null ? [] : this.open.tool.points(this.open.state);
  }

  /** The number for the eye, at once, and whether it is the server's. */
  get readout(): { text: string; isSure: boolean } | null {
    const place = this.desk.place;
    if (place === null) return null;
    if (this.held !== null) return this.heldReadout();
    if (this.open === null || this.draft.length < 2) return this.draft.length === 1 ? this.sure() : null;
    if (this.open.purpose.kind === "angle") return this.angleReadout();
    if (this.open.purpose.kind !== "quantity") return null;
    return this.sure() ?? this.rough(this.open.purpose.id, this.draft);
  }

  // ---------------------------------------------------------------- dragging what is there

  /** Take hold of a point; false when none lies within reach. */
  take(at: ImagePoint, reach_px: number): boolean {
    const place = this.desk.place;
    if (place === null || !this.desk.isDrawing) return false;
    const handles = handlesOf(drawnOn(place, this.elsewhere), this.desk.chosen);
    const found = grip(handles, at, reach_px);
    if (found === null) return false;
    this.held = found;
    this.pressed = at;
    this.at = found.at;
    this.said = null;
    this.desk.choose(found.owner.measurement, found.owner.beat, false);
    return true;
  }

  pull(to: ImagePoint) {
    if (this.held === null || this.pressed === null) return;
    this.moveHeld(drag(this.held, this.pressed, to));
  }

  nudgeHeld(dx: number, dy: number) {
    if (this.held !== null) this.moveHeld(nudge(this.held, dx, dy));
  }

  /** Let go: the move is stored, snapped first where wanted. */
  async drop() {
    const held = this.held;
    if (held === null) return;
    this.held = null;
    this.pressed = null;
    if (distancePx(held.from, held.at) < 0.05) return this.forget(held.owner.beat);
    const at = this.desk.isSnapping ? await this.snappedPoint(held) : held.at;
    this.put(held.owner.beat, held.index, at);
    const { beat } = held.owner;
    await this.desk.session.act({
      kind: "move",
      payload: { beat, point: held.index, to: [at[0], at[1]] },
    });
    this.forget(beat);
    this.would = NONE;
  }

  /** Hold the next point of the chosen number, for the keyboard. */
  holdNext(by: 1 | -1) {
    const place = this.desk.place;
    const chosen = this.desk.chosen;
    if (place === null || chosen === null) return;
    const drawn = drawnOn(place, this.elsewhere).filter((one) => one.owner.measurement === chosen.measurement);
    const spots = drawn.flatMap((one) => one.points.map((from, index) => ({ one, from, index })));
    const now = spots.findIndex(
      ({ one, index }) => one.owner.beat === this.held?.owner.beat && index === this.held.index,
    );
    const next = spots[(now + by + spots.length) % spots.length];
    if (next === undefined) return;
    void this.drop();
    const { one, from, index } = next;
    this.held = { owner: one.owner, index, from, at: from, way: one.way };
    this.at = from;
    this.desk.choose(one.owner.measurement, one.owner.beat, false);
  }

  private moveHeld(held: Grip<Owner>) {
    const at = onFrame(held.at, this.desk.pane.size);
    this.held = { ...held, at };
    this.at = at;
    this.put(held.owner.beat, held.index, at);
    const { beat } = held.owner;
    this.ask({ kind: "move", payload: { beat, point: held.index, to: [at[0], at[1]] } });
  }

  private put(beat: string, index: number, at: ImagePoint) {
    const found = this.desk.findBeat(beat);
    if (found === null) return;
    const points = this.elsewhere.get(beat) ?? found.points.map((pair) => pair as unknown as ImagePoint);
    const holding = { owner: null, index, from: at, at, way: "free" as const };
    this.elsewhere = new Map(this.elsewhere).set(beat, moved(points, holding));
  }

  private forget(beat: string) {
    const rest = new Map(this.elsewhere);
    rest.delete(beat);
    this.elsewhere = rest;
  }

  private async snappedPoint(held: Grip<Owner>): Promise<ImagePoint> {
    const found = this.desk.findMeasurement(held.owner.measurement);
    const points = this.elsewhere.get(held.owner.beat);
    if (found === undefined || points === undefined) return held.at;
    const snapped = await this.snap(found.quantity, points);
    return snapped[held.index] ?? held.at;
  }

  // ---------------------------------------------------------------- drawing something new

  private get image() {
    return this.desk.pane.image;
  }

  private toolOf(purpose: Purpose): AnyTool | null {
    if (purpose.kind === "angle") return angle;
    if (purpose.kind === "mmode") return cursor;
    if (purpose.kind === "scale") return distance;
    const catalogue = this.desk.session.catalogue;
    if (this.image === null || catalogue === null) return null;
    const kind = kindOf(catalogue, purpose.id);
    const region = mainRegion(this.image)?.kind ?? this.image.mode;
    return toolFor(purpose.id, kind, region);
  }

  private async finish(purpose: Purpose, points: readonly ImagePoint[]) {
    if (purpose.kind === "angle") return this.keepAngle(points);
    this.given = points;
    this.open = null;
    if (purpose.kind !== "quantity") {
      this.desk.dialog = purpose.kind;
      return;
    }
    const { frame, image } = this.desk.pane;
    if (image === null) return;
    const snapped = this.desk.isSnapping ? await this.snap(purpose.id, points) : points;
    const payload = { quantity: purpose.id, image: image.n, frame, points: pairs(snapped) };
    for (const beat of purpose.replaces ?? []) void this.desk.session.act({ kind: "remove", payload: { beat } });
    await this.desk.session.act({ kind: "caliper", payload });
    this.given = [];
    this.would = NONE;
    this.desk.chooseDrawn(purpose.id, image.n);
  }

  private keepAngle(points: readonly ImagePoint[]) {
    this.said = `Angle ${this.degrees(points).toFixed(0)}°, shown and not kept`;
    this.open = null;
  }

  private degrees([a, corner, b]: readonly ImagePoint[]) {
    const region = this.image && regionAt(this.image, corner);
    const aspect = (region?.cm_per_row ?? 1) / (region?.cm_per_column ?? region?.cm_per_row ?? 1);
    return a && corner && b ? angleDegrees(a, corner, b, aspect) : 0;
  }

  private angleReadout() {
    return this.draft.length < 3 ? null : { text: `${this.degrees(this.draft).toFixed(0)}°`, isSure: true };
  }

  private async snap(quantity: string, points: readonly ImagePoint[]): Promise<readonly ImagePoint[]> {
    const { session, pane } = this.desk;
    const kind = session.catalogue ? kindOf(session.catalogue, quantity) : "";
    if (!SNAPS.includes(kind) || pane.image === null) return points;
    try {
      const body = { image: pane.image.n, frame: pane.frame, points: pairs(points), quantity };
      const { ends, conventions, problem } = await postJson<Snapped>(`${session.root}/snap`, body);
      this.said = problem ? `Not snapped: ${problem}` : conventionsIn(conventions);
      return points.map((point, at) => (ends[at]?.nearest as unknown as ImagePoint | undefined) ?? point);
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.said = error.isLost ? LOST : `Not snapped: ${error.message}`;
      return points;
    }
  }

  // ---------------------------------------------------------------- what it would change

  private askDraft() {
    const open = this.open;
    const image = this.image;
    if (open?.purpose.kind !== "quantity" || image === null) return;
    const fewest = this.desk.quantity(open.purpose.id)?.fewest_points ?? 2;
    const points = this.draft;
    const isFlat = points.length === 2 && points[0] && points[1] && distancePx(points[0], points[1]) < 1;
    if (points.length < fewest || isFlat) return;
    this.ask({
      kind: "caliper",
      payload: { quantity: open.purpose.id, image: image.n, frame: this.desk.pane.frame, points: pairs(points) },
    });
  }

  /** One question at a time; of those that come meanwhile, only the last is asked. */
  private ask(act: Act) {
    this.asked = act;
    if (!this.asking) void this.askOn();
  }

  private async askOn() {
    this.asking = true;
    while (this.asked !== null) {
      const act = this.asked;
      this.asked = null;
      try {
        const { changed, problem } = await this.desk.session.preview(act);
        this.said = problem ?? null;
        const reading = this.desk.session.reading;
        if (reading !== null && (this.isActive || this.elsewhere.size > 0)) this.would = differences(reading, changed);
      } catch (error) {
        if (!(error instanceof Refused)) throw error;
        this.would = NONE;
        if (!error.isLost) this.said = error.message;
      }
    }
    this.asking = false;
  }

  private heldReadout() {
    const owner = this.held?.owner;
    const found = this.desk.findMeasurement(owner?.measurement ?? "");
    const points = this.elsewhere.get(owner?.beat ?? "");
    if (found === undefined || points === undefined) return null;
    return this.rough(found.quantity, points);
  }

  private sure() {
    const id = this.open?.purpose.kind === "quantity" ? this.open.purpose.id : null;
    const image = this.image;
    for (const { after } of this.would.measurements) {
      const beat = after?.quantity === id ? after.beats.findLast((one) => one.n === image?.n) : undefined;
      if (after && beat) return { text: `${figure(beat.value, beat.sd ?? after.sd)} ${after.unit}`, isSure: true };
    }
    return null;
  }

  private rough(id: string, points: readonly ImagePoint[]) {
    const quantity = this.desk.quantity(id);
    const region = this.image && regionAt(this.image, points[0]);
    if (quantity === undefined || !region) return null;
    const value = estimate(quantity.kind, points, region);
    return value === null ? null : { text: `${figure(value, value / 100)} ${quantity.unit}`, isSure: false };
  }
}
