import type { Changed, Reading } from "./types";

type Listing = readonly Record<string, unknown>[];

/** By which field the entries of each list are named. */
const NAMED_BY = {
  images: "n",
  measurements: "id",
  indices: "name",
  checks: "id",
  findings: "id",
} as const;

const WHOLE = [
  "patient", "visit", "advice", "protocol", "traces", "rejected", "notes", "cautions",
] as const;

/** The reading after a change. Lists that did not change stay the same objects. */
export function merge(reading: Reading, changed: Changed): Reading {
  const next: Record<string, unknown> = { ...reading };
  for (const [list, name] of Object.entries(NAMED_BY)) {
    const removed = changed.removed?.[list] ?? [];
    const order = changed.order?.[list];
    const fresh = (changed[list as keyof Changed] ?? []) as Listing;
    if (fresh.length + removed.length > 0 || order !== undefined)
      next[list] = mergeList(next[list] as Listing, fresh, name, { removed, order });
  }
  for (const key of WHOLE) if (changed[key] !== null && changed[key] !== undefined) next[key] = changed[key];
  return next as unknown as Reading;
}

interface Shape {
  readonly removed: readonly string[];
  readonly order: readonly string[] | undefined;
}

function mergeList(old: Listing, fresh: Listing, name: string, { removed, order }: Shape): Listing {
  const byName = new Map(old.map((one) => [String(one[name]), one]));
  for (const key of removed) byName.delete(key);
  for (const one of fresh) byName.set(String(one[name]), one);
  if (order === undefined) return [...byName.values()];
  return order.map((key) => byName.get(key)).filter((one) => one !== undefined);
}
