/** Every key of the desk, typed once: the handler and the key map both read this list. */
export interface Key {
  readonly keys: readonly string[];
  readonly does: string;
  readonly action: Action;
  readonly group: "Look" | "Measure" | "Judge" | "Study";
  /** Written in the map when the keys alone would not tell. */
  readonly shown?: string;
}

export type Action =
  | "play" | "frame+" | "frame-" | "beat+" | "beat-" | "image+" | "image-" | "loop" | "faster" | "slower"
  | "zoom+" | "zoom-" | "fit" | "full" | "beside" | "align" | "drawing" | "brighter" | "darker" | "steeper" | "flatter"
  | "label" | "measure" | "snap" | "point+" | "point-" | "place" | "finish" | "back" | "cancel"
  | "angle" | "mmode" | "scale" | "remove"
  | "accept" | "refuse" | "open" | "accept all" | "number+" | "number-" | "undo" | "redo"
  | "export" | "visit" | "theme" | "keys" | "list";

const key = (group: Key["group"], keys: string, does: string, action: Action, shown?: string): Key => ({
  group, keys: keys.split(" "), does, action, ...(shown ? { shown } : {}),
});

export const KEYS: readonly Key[] = [
  key("Look", "Space", "play or stop", "play"),
  key("Look", "ArrowRight", "next frame", "frame+", "→"),
  key("Look", "ArrowLeft", "frame before", "frame-", "←"),
  key("Look", "Shift+ArrowRight", "next R wave", "beat+", "Shift →"),
  key("Look", "Shift+ArrowLeft", "R wave before", "beat-", "Shift ←"),
  key("Look", "ArrowDown PageDown", "next image", "image+", "↓"),
  key("Look", "ArrowUp PageUp", "image before", "image-", "↑"),
  key("Look", "r", "loop: all, whole beats, one beat", "loop"),
  key("Look", ". >", "play faster", "faster", "."),
  key("Look", ", <", "play slower", "slower", ","),
  key("Look", "+ =", "zoom in", "zoom+", "+"),
  key("Look", "-", "zoom out", "zoom-"),
  key("Look", "0", "whole image", "fit"),
  key("Look", "f", "full screen", "full"),
  key("Look", "b", "a second image beside", "beside"),
  key("Look", "h", "keep both images at the same point of the beat", "align"),
  key("Look", "d", "show or hide the drawing", "drawing"),
  key("Look", "]", "brighter", "brighter"),
  key("Look", "[", "darker", "darker"),
  key("Look", "}", "more contrast", "steeper"),
  key("Look", "{", "less contrast", "flatter"),
  key("Measure", "l", "label this image", "label"),
  key("Measure", "m", "choose what to measure; one of the offers", "measure", "M; 1 to 6"),
  key("Measure", "s", "snap to the nearest interface", "snap"),
  key("Measure", "Tab", "next point of the chosen number", "point+", "P"),
  key("Measure", "p", "next point of the chosen number", "point+"),
  key("Measure", "Shift+p", "point before", "point-"),
  key("Measure", "Enter", "place a point; end a line", "place"),
  key("Measure", "Backspace", "take the last point back", "back"),
  key("Measure", "Escape", "leave the gesture", "cancel", "Esc"),
  key("Measure", "g", "angle between two lines", "angle"),
  key("Measure", "c", "M-mode along a line of this clip", "mmode"),
  key("Measure", "k", "scale a picture", "scale"),
  key("Measure", "Delete", "remove a number made by hand", "remove", "Del"),
  key("Judge", "a", "accept the chosen number", "accept"),
  key("Judge", "x", "refuse it", "refuse"),
  key("Judge", "o", "leave it open again", "open"),
  key("Judge", "Shift+a", "accept all that is unremarkable", "accept all"),
  key("Judge", "n", "next number", "number+"),
  key("Judge", "Shift+n", "number before", "number-"),
  key("Judge", "z Control+z Meta+z", "undo", "undo", "Z"),
  key("Judge", "Shift+z Control+Shift+z Meta+Shift+z Control+y", "redo", "redo", "Shift Z"),
  key("Study", "v", "facts of the visit", "visit"),
  key("Study", "e", "save an image or clip without names", "export"),
  key("Study", "t", "dark or light", "theme"),
  key("Study", "q", "back to the list of studies", "list"),
  key("Study", "?", "this map", "keys"),
].filter(({ keys }) => keys[0] !== "Tab");

const written = (event: KeyboardEvent) => {
  const name = event.key === " " ? "Space" : event.key.length === 1 ? event.key.toLowerCase() : event.key;
  // A sign that needs Shift already says so; letters and arrows do not.
  const isShifted = event.shiftKey && (/^[a-z]$/.test(name) || name.length > 1);
  const parts = [event.ctrlKey && "Control", event.metaKey && "Meta", isShifted && "Shift", name];
  return parts.filter(Boolean).join("+");
};

export function actionOf(event: KeyboardEvent): Action | null {
  if (event.altKey) return null;
  const name = written(event);
  return KEYS.find(({ keys }) => keys.includes(name))?.action ?? null;
}

/** Whether a key belongs to a field that is being typed in. */
export function isTyping(target: EventTarget | null): boolean {
  if (!(target instanceof HTMLElement)) return false;
  if (target instanceof HTMLInputElement) return !["checkbox", "radio", "range", "button"].includes(target.type);
  return target.isContentEditable || target instanceof HTMLTextAreaElement || target instanceof HTMLSelectElement;
}

/** Space and Enter press a focused button, arrows move a focused slider; elsewhere they are the desk's. */
export function isPressing({ key: name, target }: KeyboardEvent): boolean {
  if (!(target instanceof HTMLElement)) return false;
  if (name.startsWith("Arrow")) return target instanceof HTMLInputElement;
  return (name === " " || name === "Enter") && target.closest("button, a, summary, input") !== null;
}
