import type { Image, Index, Measurement } from "../api/types";

type Valued = Pick<Measurement | Index, "value" | "sd" | "unit" | "bound">;

/**
 * The decimals that the doubt leaves standing: one figure of the standard deviation, two where it
 * begins with a 1, as the letter writes them. Rule: GUM (JCGM 100:2008), 7.2.6.
 */
export function decimals(sd: number, value: number): number {
  const leading = sd > 0 ? sd : Math.abs(value);
  if (leading === 0 || !Number.isFinite(leading)) return 2;
  const figures = sd > 0 ? (sd.toExponential().startsWith("1") ? 2 : 1) : 3;
  const most = Math.abs(value) >= 0.5 ? 2 : 3;
  return Math.min(most, Math.max(0, figures - 1 - Math.floor(Math.log10(leading))));
}

export const figure = (value: number, sd: number) => value.toFixed(decimals(sd, value));

export const amount = ({ value, sd, bound }: Valued) =>
  `${bound === "lower" ? "at least " : ""}${figure(value, sd)}`;

export const doubt = ({ value, sd }: Valued) => (sd > 0 ? `± ${sd.toFixed(decimals(sd, value))}` : "");

export const interval = ({ value, sd }: Valued, [low, high]: readonly [number, number]) =>
  `${low.toFixed(decimals(sd, value))} to ${high.toFixed(decimals(sd, value))}`;

/** What an image shows, in words. */
export function caption(image: Image): string {
  if (image.mmode) return `M-mode, ${image.mmode}`;
  if (image.flow) return image.flow;
  const kind = image.mode === "colour" ? "colour, " : "";
  return image.view ? `${kind}${image.view}` : `${image.mode}, no label yet`;
}

/** The group that a thumbnail stands in: the window of its view, its first two words. */
export const groupOf = (image: Image) => image.view?.split(/[ ,]+/).slice(0, 2).join(" ") ?? "No view yet";

/** A view without its window: the heading above has said that. */
export const insideGroup = (view: string) => capital(view.split(" ").slice(2).join(" ") || view);

/** A unit as people say it beside a number. */
export const unitOf = (unit: string) => (unit === "beats/min" ? "/min" : unit);

export const percent = (share: number) => {
  if (share < 0.005) return "< 1 %";
  return share >= 0.995 ? "> 99 %" : `${Math.round(share * 100)} %`;
};

export const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

const AGO: readonly (readonly [number, string])[] = [[86_400, "d"], [3600, "h"], [60, "min"]];

export function ago(at: string, now_ms: number): string {
  const passed_s = Math.max(0, (now_ms - Date.parse(at)) / 1000);
  for (const [seconds, unit] of AGO)
    if (passed_s >= seconds) return `${Math.floor(passed_s / seconds)} ${unit} ago`;
  return "just now";
}
