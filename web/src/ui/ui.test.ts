import { describe, expect, it } from "vitest";
import { merge } from "../api/merge";
import type { Changed, Edit, Finding, Measurement, Reading, Reference } from "../api/types";
import { adoptWaiting, keepWaiting, rebase, wasStored, type Waiting } from "../api/waiting";
import { bandOf } from "./band";
import { differences } from "./changes";
import { actionOf, KEYS } from "./keys";
import { decimals, percent } from "./words";

const number = (id: string, value: number) => ({ id, quantity: id, value, sd: 0.05, interval90: [value - 0.1, value + 0.1] }) as unknown as Measurement;
const reading = (...measurements: Measurement[]) =>
  ({ measurements, indices: [], checks: [], findings: [], images: [] }) as unknown as Reading;

describe("merging a change into a reading", () => {
  it("replaces by id, adds, removes, and keeps the order that is told", () => {
    const changed = {
      measurements: [number("b", 9), number("c", 3)],
      removed: { measurements: ["a"] },
      order: { measurements: ["c", "b"] },
    } as unknown as Changed;
    const next = merge(reading(number("a", 1), number("b", 2)), changed);
    expect(next.measurements.map((one) => [one.id, one.value])).toEqual([["c", 3], ["b", 9]]);
  });
  it("leaves lists alone that did not change", () => {
    const old = reading(number("a", 1));
    expect(merge(old, {} as Changed).measurements).toBe(old.measurements);
  });
});

describe("what a change would change", () => {
  it("tells before and after, and what goes", () => {
    const changed = { measurements: [number("a", 2)], removed: { indices: ["FS"] } } as unknown as Changed;
    const old = { ...reading(number("a", 1)), indices: [{ name: "FS" }] } as unknown as Reading;
    const found = differences(old, changed);
    expect(found.measurements[0]?.before?.value).toBe(1);
    expect(found.measurements[0]?.after?.value).toBe(2);
    expect(found.indices[0]?.after).toBeNull();
  });
  it("does not speak of a finding that says the same with the same chance", () => {
    const finding = (share: number) => ({ id: "stage", statement: "B2", probability: { B2: share } }) as unknown as Finding;
    const old = { ...reading(), findings: [finding(0.5)] } as Reading;
    expect(differences(old, { findings: [finding(0.501)] } as unknown as Changed).findings).toEqual([]);
    expect(differences(old, { findings: [finding(0.6)] } as unknown as Changed).findings).toHaveLength(1);
  });
});

describe("acts that wait", () => {
  const act = (who: string, base_version: number): Waiting => ({ who, base_version, act: { kind: "redo", payload: {} } });
  function store(): Storage {
    const kept = new Map<string, string>();
    return {
      get length() { return kept.size; },
      key: (at: number) => [...kept.keys()][at] ?? null,
      getItem: (name: string) => kept.get(name) ?? null,
      setItem: (name: string, value: string) => void kept.set(name, value),
      removeItem: (name: string) => void kept.delete(name),
      clear: () => kept.clear(),
    };
  }
  it("are taken over from a window that was closed", () => {
    const here = store();
    keepWaiting(here, "s", "old", [act("k", 3)]);
    expect(adoptWaiting(here, "s", "new").map((one) => one.who)).toEqual(["k"]);
    expect(adoptWaiting(here, "other study", "new")).toEqual([]);
  });
  it("rest on the new version once the one before them is stored", () => {
    expect(rebase([act("a", 3), act("b", 2)], 3, 4).map((one) => one.base_version)).toEqual([4, 2]);
  });
  it("are not sent again when only the answer was lost", () => {
    const log = [{ who: "a", version: 4 }, { who: "b", version: 5 }] as Edit[];
    expect(wasStored(act("a", 3), log, new Set())).toBe(true);
    expect(wasStored(act("a", 3), log, new Set([4]))).toBe(false);
    expect(wasStored(act("c", 3), log, new Set())).toBe(false);
  });
  it("survive what cannot be read", () => {
    const here = store();
    here.setItem("tableside.waiting.s.x", "{");
    expect(adoptWaiting(here, "s", "new")).toEqual([]);
  });
});

describe("the band of a number", () => {
  const reference = { low: 2, high: 4 } as Reference;
  it("puts the interval always over the same stretch", () => {
    expect(bandOf(number("a", 3), reference)?.value).toBeCloseTo(0.5, 9);
    expect(bandOf(number("a", 2), reference)?.value).toBeCloseTo(0.3, 9);
  });
  it("says above, below and beyond the line", () => {
    expect(bandOf(number("a", 4.1), reference)?.place).toBe("above");
    expect(bandOf(number("a", 1.9), reference)?.place).toBe("below");
    expect(bandOf(number("a", 9), reference)?.isBeyond).toBe(true);
  });
  it("draws nothing without a limit", () => {
    expect(bandOf(number("a", 3), {} as Reference)).toBeNull();
  });
});

describe("figures", () => {
  it("keep the decimals that the doubt leaves standing", () => {
    // Source of the rule: GUM (JCGM 100:2008) 7.2.6, at most two figures of the uncertainty.
    expect([decimals(0.07, 3.52), decimals(0.12, 3.5), decimals(2.3, 118)]).toEqual([2, 2, 0]);
  });
  it("never say 0 or 100 % of what is only nearly so", () => {
    expect([percent(0.004), percent(0.996), percent(0.5)]).toEqual(["< 1 %", "> 99 %", "50 %"]);
  });
});

describe("keys", () => {
  it("do one thing each", () => {
    const all = KEYS.flatMap((one) => one.keys);
    expect(new Set(all).size).toBe(all.length);
  });
  it("are found whatever the shift key does to a sign", () => {
    const press = (key: string, shiftKey = false) => actionOf({ key, shiftKey, altKey: false, ctrlKey: false, metaKey: false } as KeyboardEvent);
    expect([press("?", true), press("Z", true), press("z"), press("+", true), press(" ")]).toEqual(["keys", "redo", "undo", "zoom+", "play"]);
  });
});
