import type { ScaleGiven } from "../api/types";
import type { ImagePoint } from "../geometry/spaces";

export type Picture = "2-d" | "m-mode" | "spectral doppler";
export type Part = "cm" | "s" | "m/s";

/** Which known lengths each kind of picture needs. */
export const PARTS: Record<Picture, readonly Part[]> = {
  "2-d": ["cm"],
  "m-mode": ["cm", "s"],
  "spectral doppler": ["m/s", "s"],
};

export const ASKS: Record<Part, string> = {
  cm: "two points a known depth or length apart",
  s: "two points a known time apart",
  "m/s": "the baseline, then a known speed",
};

interface Known {
  readonly points: readonly ImagePoint[];
  readonly amount: number;
}

/** A scale in the making: two clicks and a number for each axis. Centimetres stay the server's. */
export class ScaleDraft {
  picture = $state<Picture>("2-d");
  marking = $state<Part | null>(null);
  known = $state.raw<Readonly<Partial<Record<Part, Known>>>>({});

  set(part: Part, points: readonly ImagePoint[], amount: number) {
    this.known = { ...this.known, [part]: { points, amount } };
  }

  get isWhole() {
    return PARTS[this.picture].every((part) => (this.known[part]?.amount ?? 0) > 0);
  }

  /** What is sent: pixels for one unit. */
  get given(): Partial<ScaleGiven> {
    const { cm, s } = this.known;
    const speed = this.known["m/s"];
    return {
      ...(cm && this.picture !== "spectral doppler" ? { rows_per_cm: this.depth(cm) } : {}),
      ...(s && this.picture !== "2-d" ? { columns_per_s: per(s, across) } : {}),
      ...(speed && this.picture === "spectral doppler"
        ? { rows_per_m_s: per(speed, down), baseline_row: speed.points[0]?.[1] ?? 0 }
        : {}),
    };
  }

  /** On an M-mode depth runs along rows; a 2-D picture has one scale for all directions. */
  private depth(cm: Known) {
    return per(cm, this.picture === "m-mode" ? down : (a, b) => Math.hypot(b[0] - a[0], b[1] - a[1]));
  }
}

type Apart = (a: ImagePoint, b: ImagePoint) => number;

const across: Apart = (a, b) => Math.abs(b[0] - a[0]);
const down: Apart = (a, b) => Math.abs(b[1] - a[1]);

function per({ points: [a, b], amount }: Known, apart: Apart) {
  return a && b && amount > 0 ? apart(a, b) / amount : 0;
}
