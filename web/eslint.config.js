import importX from "eslint-plugin-import-x";
import svelte from "eslint-plugin-svelte";
import ts from "typescript-eslint";

// The arrow: each layer may import itself and those before it. `api` is a leaf that view and ui read.
const LAYERS = ["geometry", "tools", "draw", "view", "ui"];

const zones = LAYERS.flatMap((layer, at) =>
  LAYERS.slice(at + 1).map((above) => ({
    target: `./src/${layer}`,
    from: `./src/${above}`,
    message: `${layer} comes before ${above} and must not know it.`,
  })),
);
const leaf = LAYERS.map((layer) => ({ target: "./src/api", from: `./src/${layer}` }));
const pure = ["geometry", "tools", "draw"].map((layer) => ({
  target: `./src/${layer}`,
  from: "./src/api",
  message: `${layer} knows pixels only; the server's records stop at view.`,
}));

export default ts.config(
  { ignores: ["src/api/schema.ts"] },
  ...ts.configs.recommended,
  ...svelte.configs["flat/recommended"],
  { files: ["**/*.svelte", "**/*.svelte.ts"], languageOptions: { parserOptions: { parser: ts.parser } } },
  {
    files: ["src/**/*.{ts,svelte}"],
    plugins: { "import-x": importX },
    settings: { "import-x/resolver": { node: { extensions: [".ts", ".svelte", ".svelte.ts"] } } },
    rules: {
      "import-x/no-restricted-paths": ["error", { zones: [...zones, ...leaf, ...pure] }],
      "max-lines": ["error", 400],
      complexity: ["error", 12],
      "max-params": ["error", 5],
      "svelte/no-navigation-without-resolve": "off",
      // State is replaced, never changed in place: plain maps are enough.
      "svelte/prefer-svelte-reactivity": "off",
    },
  },
);
