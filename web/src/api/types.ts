import type { components } from "./schema";

type Shapes = components["schemas"];

export type Beat = Shapes["Beat"];
export type Catalogue = Shapes["Catalogue"];
export type Changed = Shapes["Changed"];
export type Check = Shapes["Check"];
export type Decision = Shapes["Decision"];
export type Edit = Shapes["Edit"];
export type Finding = Shapes["Finding"];
export type Image = Shapes["Image"];
export type ImageDetail = Shapes["ImageDetail"];
export type Index = Shapes["Index"];
export type Label = Shapes["Label"];
export type Listed = Shapes["Listed"];
export type Measurement = Shapes["Measurement"];
export type Quantity = Shapes["Quantity"];
export type Reading = Shapes["Reading"];
export type Received = Shapes["Received"];
export type Reference = Shapes["Reference"];
export type Region = Shapes["Region"];
export type Rejected = Shapes["Rejected"];
export type StudyState = Shapes["StudyState"];
export type Suggestion = Shapes["Suggestion"];
export type LabelKind = Suggestion["kind"];
export type Pair = readonly [number, number];
export type Changes = Shapes["Changes"];
export type MMode = Shapes["MMode"];
export type Rulers = Shapes["Rulers"];
export type Snapped = Shapes["Snapped"];
export type Previewed = Shapes["Previewed"];
export type ScaleGiven = NonNullable<Shapes["ScalePayload"]["scale"]>;
export type VisitGiven = Partial<Shapes["VisitPayload"]>;
export type LabelGiven = { readonly image: number } & { readonly [kind in LabelKind]?: string | null };
export type Decided = "accepted" | "refused" | "open";

/** What a person can do to a study. Only image pixels travel; the server computes. */
export type Act =
  | { readonly kind: "label"; readonly payload: LabelGiven }
  | { readonly kind: "caliper"; readonly payload: CaliperGiven }
  | { readonly kind: "move"; readonly payload: MoveGiven }
  | { readonly kind: "beat"; readonly payload: { readonly beat: string; readonly used: boolean } }
  | { readonly kind: "remove"; readonly payload: { readonly beat: string } }
  | { readonly kind: "decide"; readonly payload: DecideGiven }
  | { readonly kind: "scale"; readonly payload: { readonly image: number; readonly scale: Partial<ScaleGiven> | null } }
  | { readonly kind: "line"; readonly payload: { readonly image: number; readonly line: readonly Pair[] } }
  | { readonly kind: "visit"; readonly payload: VisitGiven }
  | { readonly kind: "undo"; readonly payload: { readonly version?: number } }
  | { readonly kind: "accept_unremarkable" | "redo"; readonly payload: Readonly<Record<string, never>> };

export interface CaliperGiven {
  readonly quantity: string;
  readonly image: number;
  readonly frame: number;
  readonly points: readonly Pair[];
}
export interface MoveGiven {
  readonly beat: string;
  readonly point: number;
  readonly to: Pair;
}
/** `value` is the number on the screen: the server refuses to sign another one. */
export interface DecideGiven {
  readonly measurement: string;
  readonly state: Decided;
  readonly value?: number;
}
