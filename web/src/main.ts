import { mount } from "svelte";
import App from "./ui/App.svelte";
import { applyTheme } from "./ui/look.svelte";
import "./ui/theme.css";

applyTheme();
const target = document.getElementById("app");
if (target) mount(App, { target });
