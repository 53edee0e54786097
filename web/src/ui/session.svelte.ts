import { getJson, postJson, Refused } from "../api/fetching";
import { merge } from "../api/merge";
import type { Act, Catalogue, Changes, Edit, Previewed, StudyState } from "../api/types";
import { adoptWaiting, keepWaiting, rebase, wasStored, type Waiting } from "../api/waiting";

const AGAIN_MS = 2000;
const NOTICE_MS = 7000;

export interface Notice {
  readonly id: number;
  readonly text: string;
  readonly isAlarm: boolean;
}

/** An act that meets what someone else did to the same thing. */
export interface Conflict {
  readonly mine: Waiting;
  readonly theirs: readonly Edit[];
  readonly version: number;
}

const WHO = "tableside.who";

/** This window's name in the log: the same after a reload, another in another window. */
export const tab = sessionStorage.getItem(WHO) ?? `desk-${crypto.randomUUID().slice(0, 8)}`;
sessionStorage.setItem(WHO, tab);

/** The log with new records; what they undo or redo is marked so. */
function withEdits(old: readonly Edit[], fresh: readonly Edit[]): Edit[] {
  const undone = new Map(fresh.flatMap((one) => [[one.undoes, true] as const, [one.redoes, false] as const]));
  return [...old, ...fresh].map((one) => ({ ...one, undone: undone.get(one.version) ?? one.undone }));
}

/** One study as the server has it, and what this page still has to tell it. */
export class Session {
  state = $state.raw<StudyState | null>(null);
  catalogue = $state.raw<Catalogue | null>(null);
  waiting = $state.raw<readonly Waiting[]>([]);
  notices = $state.raw<readonly Notice[]>([]);
  conflict = $state.raw<Conflict | null>(null);
  failure = $state<string | null>(null);
  isLost = $state(false);
  private events: EventSource | null = null;
  private isSending = false;
  private again: ReturnType<typeof setTimeout> | null = null;
  private count = 0;
  private readonly told = new Set<number>();
  private settled: (() => void)[] = [];

  constructor(readonly id: string) {}

  get reading() {
    return this.state?.reading ?? null;
  }

  get root() {
    return `/api/studies/${this.id}`;
  }

  async open() {
    this.waiting = adoptWaiting(localStorage, this.id, tab);
    this.listen();
    try {
      this.catalogue ??= await getJson<Catalogue>("/api/catalogue");
      await this.reload();
      void this.send();
    } catch (error) {
      if (error instanceof Refused && !error.isLost) this.failure = error.message;
      else this.lose();
    }
  }

  close() {
    this.events?.close();
    if (this.again !== null) clearTimeout(this.again);
  }

  async reload() {
    const state = await getJson<StudyState>(this.root);
    if (this.state !== null && state.version < this.state.version) return;
    this.state = state;
    this.isLost = false;
  }

  /** Do something: kept here at once, then sent. Resolves when the server has it or refuses. */
  act(act: Act): Promise<void> {
    const base_version = this.state?.version ?? 0;
    this.keep([...this.waiting, { who: tab, base_version, act }]);
    const done = new Promise<void>((resolve) => this.settled.push(resolve));
    void this.send();
    return done;
  }

  /** What an act would change; nothing is stored. */
  preview(act: Act): Promise<Previewed> {
    const base_version = this.state?.version ?? 0;
    return postJson<Previewed>(`${this.root}/preview`, { ...act, base_version, who: tab });
  }

  say(text: string, isAlarm = false) {
    const notice = { id: (this.count += 1), text, isAlarm };
    this.notices = [...this.notices.slice(-2), notice];
    if (!isAlarm) setTimeout(() => this.dismiss(notice.id), NOTICE_MS);
  }

  dismiss(id: number) {
    this.notices = this.notices.filter((one) => one.id !== id);
  }

  /** Settle a conflict: keep theirs, or do mine on top of theirs. */
  settle(isMine: boolean) {
    const conflict = this.conflict;
    if (conflict === null) return;
    this.conflict = null;
    const [, ...others] = this.waiting;
    const mine = { ...conflict.mine, base_version: conflict.version };
    this.keep(isMine ? [mine, ...others] : others);
    void this.reload().then(() => this.send());
  }

  private keep(waiting: readonly Waiting[]) {
    this.waiting = waiting;
    keepWaiting(localStorage, this.id, tab, waiting);
    if (waiting.length > 0) return;
    for (const resolve of this.settled.splice(0)) resolve();
  }

  private async send() {
    if (this.isSending || this.conflict !== null) return;
    this.isSending = true;
    try {
      for (let first = this.waiting[0]; first !== undefined; first = this.waiting[0])
        if (!(await this.sendOne(first))) break;
    } finally {
      this.isSending = false;
    }
  }

  /** Whether to go on with the next one. */
  private async sendOne(one: Waiting): Promise<boolean> {
    if (wasStored(one, this.state?.edits ?? [], this.told)) {
      this.keep(rebase(this.waiting.slice(1), one.base_version, this.state?.version ?? 0));
      return true;
    }
    const { base_version, act, who } = one;
    try {
      const body = { ...act, base_version, who };
      this.take(one, await postJson<Changes>(`${this.root}/edits`, body));
      return true;
    } catch (error) {
      return this.refused(one, error);
    }
  }

  private take(one: Waiting, changes: Changes) {
    const { version, changed, edits, merged } = changes;
    for (const edit of edits) this.told.add(edit.version);
    const state = this.state;
    const reading = changes.reading ?? (state?.reading && changed ? merge(state.reading, changed) : null);
    if (state !== null && reading !== null)
      this.state = { ...state, version, reading, edits: withEdits(state.edits, edits) };
    for (const edit of edits.filter((each) => merged.includes(each.version)))
      this.say(`Changed in another window too: ${edit.text}`);
    this.isLost = false;
    this.keep(rebase(this.waiting.slice(1), one.base_version, version));
    if (this.waiting.length === 0) void this.reload().catch(() => this.lose());
  }

  private refused(one: Waiting, error: unknown): boolean {
    if (!(error instanceof Refused)) throw error;
    if (error.isLost || error.status >= 500 || error.problem["title"] === "not-ready") {
      this.lose();
      return false;
    }
    const theirs = error.problem["newer"] as readonly Edit[] | undefined;
    if (theirs !== undefined) {
      this.conflict = { mine: one, theirs, version: Number(error.problem["version"]) };
      return false;
    }
    this.say(error.message, true);
    this.keep(this.waiting.slice(1));
    void this.reload().catch(() => this.lose());
    return true;
  }

  private lose() {
    this.isLost = true;
    this.again ??= setTimeout(() => {
      this.again = null;
      void this.reload().then(() => this.send(), () => this.lose());
    }, AGAIN_MS);
  }

  private listen() {
    const events = new EventSource(`${this.root}/events`);
    this.events = events;
    events.addEventListener("open", () => {
      if (this.isLost) void this.reload().then(() => this.send(), () => this.lose());
    });
    events.addEventListener("error", () => this.state !== null && this.lose());
    events.addEventListener("reading", () => void this.reload().catch(() => this.lose()));
    events.addEventListener("failed", () => void this.reload().catch(() => this.lose()));
    events.addEventListener("progress", (event) => {
      const progress = JSON.parse((event as MessageEvent<string>).data);
      if (this.state) this.state = { ...this.state, progress };
    });
    events.addEventListener("edit", (event) => this.heard((event as MessageEvent<string>).data));
  }

  private heard(data: string) {
    const edit = JSON.parse(data) as { version: number; who?: string; text?: string; kind: string };
    if (edit.who === tab || this.state === null || edit.version <= this.state.version) return;
    this.say(`Changed in another window: ${edit.text ?? edit.kind}`);
    void this.reload().catch(() => this.lose());
  }
}
