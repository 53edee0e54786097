/** Colours of what is drawn on a picture. Each stands on a dark casing, so that it shows on any grey. */
export const INKS = {
  automatic: "#6fd6c9",
  hand: "#cbb8ff",
  chosen: "#fff4cf",
  left_out: "#9aa7ab",
  trace: "#6fd6c9",
  draft: "#ffffff",
  casing: "rgba(6, 12, 14, 0.78)",
} as const;

export type Ink = Exclude<keyof typeof INKS, "casing">;
