import type { Act, Edit } from "./types";

/** An act that the server has not confirmed, and the window that it was done in. */
export interface Waiting {
  readonly who: string;
  readonly base_version: number;
  readonly act: Act;
}

const prefix = (study: string) => `tableside.waiting.${study}.`;

/** Acts kept on this computer until the server has them: a crash or a lost line loses none. */
export function keepWaiting(store: Storage, study: string, tab: string, waiting: readonly Waiting[]) {
  if (waiting.length === 0) store.removeItem(prefix(study) + tab);
  else store.setItem(prefix(study) + tab, JSON.stringify(waiting));
}

/** Take over what closed windows left; each act keeps the name of the window it was done in. */
export function adoptWaiting(store: Storage, study: string, tab: string): readonly Waiting[] {
  const names = Array.from({ length: store.length }, (_, at) => store.key(at) ?? "");
  const ours = names.filter((name) => name.startsWith(prefix(study)));
  const waiting = ours.flatMap((name) => parse(store.getItem(name)));
  for (const name of ours) store.removeItem(name);
  keepWaiting(store, study, tab, waiting);
  return waiting;
}

function parse(text: string | null): readonly Waiting[] {
  try {
    const found: unknown = JSON.parse(text ?? "[]");
    return Array.isArray(found) ? (found as Waiting[]) : [];
  } catch {
    return [];
  }
}

/**
 * Whether the server has an act whose answer was lost: its window has a newer edit in the log than
 * the act rests on, and no answer told of that edit.
 */
export const wasStored = (one: Waiting, edits: readonly Edit[], told: ReadonlySet<number>) =>
  edits.some(({ who, version }) => who === one.who && version > one.base_version && !told.has(version));

/** After one was stored, those behind it that rested on the same version rest on the new one. */
export const rebase = (waiting: readonly Waiting[], from: number, to: number) =>
  waiting.map((one) => (one.base_version === from ? { ...one, base_version: to } : one));
