import { angle, discs } from "./corners";
import { envelope, outline } from "./path";
import { peak } from "./peak";
import { cursor, depth, distance, slope, time } from "./segment";
import type { AnyTool } from "./tool";

const SLOPES = ["DT", "AR_PHT"]; // a slope is read from both its points, not from the time alone

/** The gesture that draws a quantity of this kind on this kind of region. */
export function toolFor(quantity: string, kind: string, region: string): AnyTool | null {
  switch (kind) {
    case "length":
    case "lateral length":
      return region.endsWith("m-mode") ? depth : distance;
    case "velocity":
      return peak;
    case "time":
      return SLOPES.includes(quantity) ? slope : time;
    case "rate":
      return time;
    case "vti":
    case "gradient":
      return envelope;
    case "area":
      return outline;
    case "volume":
      return discs;
    default:
      return null;
  }
}

/** Which way the points of a finished drawing may be dragged. */
export function wayFor(quantity: string, kind: string, region: string) {
  const tool = toolFor(quantity, kind, region);
  if (tool === depth) return "upright";
  return tool === time ? "level" : "free";
}

export const TOOLS: readonly AnyTool[] = [
  distance, depth, time, slope, cursor, peak, outline, envelope, discs, angle,
];
