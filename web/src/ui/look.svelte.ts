const STORED = "tableside.theme";

/** Dark first: the room is. */
export const look = $state({ theme: localStorage.getItem(STORED) === "light" ? "light" : "dark" });

export function applyTheme() {
  document.documentElement.dataset["theme"] = look.theme;
}

export function toggleTheme() {
  look.theme = look.theme === "dark" ? "light" : "dark";
  localStorage.setItem(STORED, look.theme);
  applyTheme();
}

export function toggleFull() {
  if (document.fullscreenElement) void document.exitFullscreen();
  else void document.documentElement.requestFullscreen();
}
