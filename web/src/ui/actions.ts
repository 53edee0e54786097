import { SPEEDS, type LoopKind } from "../view/player";
import type { Desk } from "./desk.svelte";
import type { Action } from "./keys";
import { toggleFull, toggleTheme } from "./look.svelte";

const LOOPS: readonly LoopKind[] = ["all", "whole beats", "one beat"];
const REACH_PX = 6;
const ZOOM = 1.25;

type Doing = (desk: Desk) => void;

const play = (change: (desk: Desk) => Desk["pane"]["playing"]): Doing => (desk) => desk.pane.set(change(desk));

const DOES: Record<Action, Doing> = {
  play: play(({ pane }) => ({ ...pane.playing, isPlaying: !pane.playing.isPlaying })),
  "frame+": play(({ pane }) => pane.timeline.step(pane.playing, 1)),
  "frame-": play(({ pane }) => pane.timeline.step(pane.playing, -1)),
  "beat+": play(({ pane }) => pane.timeline.stepBeat(pane.playing, 1)),
  "beat-": play(({ pane }) => pane.timeline.stepBeat(pane.playing, -1)),
  loop: play(({ pane }) => ({ ...pane.playing, loopKind: nextLoop(pane.playing.loopKind) })),
  faster: play(({ pane }) => ({ ...pane.playing, speed: nextSpeed(pane.playing.speed, 1) })),
  slower: play(({ pane }) => ({ ...pane.playing, speed: nextSpeed(pane.playing.speed, -1) })),
  "image+": (desk) => desk.showBy(1),
  "image-": (desk) => desk.showBy(-1),
  "zoom+": (desk) => desk.pane.zoomBy(ZOOM),
  "zoom-": (desk) => desk.pane.zoomBy(1 / ZOOM),
  fit: (desk) => desk.pane.refit(),
  full: () => toggleFull(),
  beside: (desk) => desk.toggleBeside(),
  align: (desk) => void (desk.isAligned = !desk.isAligned),
  drawing: (desk) => void (desk.isDrawing = !desk.isDrawing),
  brighter: (desk) => tone(desk, 0.1, 0),
  darker: (desk) => tone(desk, -0.1, 0),
  steeper: (desk) => tone(desk, 0, 0.1),
  flatter: (desk) => tone(desk, 0, -0.1),
  label: (desk) => void (desk.dialog = "label"),
  measure: (desk) => void (desk.dialog = "measure"),
  snap: (desk) => void (desk.isSnapping = !desk.isSnapping),
  "point+": (desk) => desk.gesture.holdNext(1),
  "point-": (desk) => desk.gesture.holdNext(-1),
  place: (desk) => place(desk),
  finish: (desk) => desk.gesture.feed({ type: "finish" }),
  back: (desk) => desk.gesture.feed({ type: "back" }),
  cancel: (desk) => desk.gesture.cancel(),
  angle: (desk) => desk.gesture.begin({ kind: "angle" }),
  mmode: (desk) => desk.gesture.begin({ kind: "mmode" }),
  scale: (desk) => void (desk.dialog = "scale"),
  remove: (desk) => desk.removeChosen(),
  accept: (desk) => desk.decide("accepted"),
  refuse: (desk) => desk.decide("refused"),
  open: (desk) => desk.decide("open"),
  "accept all": (desk) => desk.acceptAll(),
  "number+": (desk) => desk.chooseBy(1),
  "number-": (desk) => desk.chooseBy(-1),
  undo: (desk) => desk.undo(),
  redo: (desk) => desk.redo(),
  export: (desk) => void (desk.dialog = "export"),
  visit: (desk) => void (desk.dialog = "visit"),
  theme: () => toggleTheme(),
  keys: (desk) => void (desk.dialog = "keys"),
  list: () => void (location.hash = "#/"),
};

export const run = (desk: Desk, action: Action) => DOES[action](desk);

/** Enter places a point, or puts down the one that is held. */
function place({ gesture }: Desk) {
  if (gesture.held !== null) void gesture.drop();
  else gesture.press(REACH_PX);
}

const ARROWS: Record<string, readonly [number, number]> = {
  ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1],
};

/** While a gesture is open, arrows move its point: one pixel, ten with Shift, a quarter with Alt. */
export function steer({ gesture, pane }: Desk, event: KeyboardEvent): boolean {
  const arrow = ARROWS[event.key];
  if (arrow === undefined || !gesture.isActive) return false;
  const step = event.altKey ? 0.25 : event.shiftKey ? 10 : 1;
  const [dx, dy] = [arrow[0] * step, arrow[1] * step];
  if (gesture.held !== null) {
    gesture.nudgeHeld(dx, dy);
    return true;
  }
  if (gesture.at === null) return false;
  const x = Math.min(Math.max(gesture.at[0] + dx, 0), pane.size.width - 1);
  const y = Math.min(Math.max(gesture.at[1] + dy, 0), pane.size.height - 1);
  gesture.feed({ type: "move", at: [x, y] as never, reach_px: REACH_PX });
  return true;
}

const nextLoop = (kind: LoopKind): LoopKind => LOOPS[(LOOPS.indexOf(kind) + 1) % LOOPS.length] ?? "all";

function nextSpeed(speed: number, by: 1 | -1) {
  const at = SPEEDS.findIndex((one) => one === speed);
  return SPEEDS[Math.min(Math.max(at + by, 0), SPEEDS.length - 1)] ?? 1;
}

function tone({ pane }: Desk, brighter: number, steeper: number) {
  const keep = (value: number) => Math.min(Math.max(Math.round(value * 10) / 10, 0.3), 3);
  const { brightness, contrast } = pane.tone;
  pane.tone = { brightness: keep(brightness + brighter), contrast: keep(contrast + steeper) };
}
