import type { Changed, Finding, Reading } from "../api/types";

/** One thing that a change would change, before and after; null where there is nothing. */
export interface Difference<T> {
  readonly name: string;
  readonly before: T | null;
  readonly after: T | null;
}

export interface Differences {
  readonly measurements: readonly Difference<Reading["measurements"][number]>[];
  readonly indices: readonly Difference<Reading["indices"][number]>[];
  readonly checks: readonly Difference<Reading["checks"][number]>[];
  readonly findings: readonly Difference<Finding>[];
}

export const NONE: Differences = { measurements: [], indices: [], checks: [], findings: [] };

/** What differs for a person: numbers as they are, checks by verdict, findings by what they say. */
export function differences(reading: Reading, changed: Changed): Differences {
  const gone = changed.removed ?? {};
  return {
    measurements: differ(reading.measurements, changed.measurements, gone["measurements"], (one) => one.id),
    indices: differ(reading.indices, changed.indices, gone["indices"], (one) => one.name),
    checks: differ(reading.checks, changed.checks, gone["checks"], (one) => one.id).filter(
      ({ before, after }) => before?.verdict !== after?.verdict || before?.message !== after?.message,
    ),
    findings: differ(reading.findings, changed.findings, gone["findings"], (one) => one.id).filter(
      ({ before, after }) =>
        before?.statement !== after?.statement || !isSameChance(before, after),
    ),
  };
}

function differ<T>(
  old: readonly T[],
  fresh: readonly T[] | undefined,
  removed: readonly string[] | undefined,
  name: (one: T) => string,
): readonly Difference<T>[] {
  const known = new Map(old.map((one) => [name(one), one]));
  const now = (fresh ?? []).map((after) => ({
    name: name(after), before: known.get(name(after)) ?? null, after,
  }));
  const went = (removed ?? []).map((key) => ({ name: key, before: known.get(key) ?? null, after: null }));
  return [...now, ...went];
}

function isSameChance(before: Finding | null, after: Finding | null) {
  const [a, b] = [before?.probability ?? {}, after?.probability ?? {}];
  return Object.keys({ ...a, ...b }).every((key) => Math.abs((a[key] ?? 0) - (b[key] ?? 0)) < 0.005);
}
