import { createHash } from "node:crypto";
import { readFileSync, readdirSync } from "node:fs";
import { svelte } from "@sveltejs/vite-plugin-svelte";
import { defineConfig, type Plugin } from "vite";

/** Tells the service worker which files the app consists of, and gives the set a name that changes with them. */
function appFiles(): Plugin {
  return {
    name: "app-files",
    apply: "build",
    enforce: "post",
    generateBundle(_options, bundle) {
      const worker = bundle["service-worker.js"];
      if (worker?.type !== "chunk") throw new Error("the service worker was not built");
      const hash = createHash("sha256");
      const files = ["/"];
      for (const [name, made] of Object.entries(bundle).sort(([a], [b]) => (a < b ? -1 : 1))) {
        hash.update(name).update(made.type === "chunk" ? made.code : made.source);
        if (name !== "service-worker.js" && name !== "index.html") files.push(`/${name}`);
      }
      for (const name of readdirSync("public").sort()) {
        hash.update(readFileSync(`public/${name}`));
        files.push(`/${name}`);
      }
      worker.code = worker.code
        .replace("__FILES__", JSON.stringify(files))
        .replace("__SET__", JSON.stringify(hash.digest("hex").slice(0, 12)));
    },
  };
}

/** One catalog: the sentences of the guide and those of the app, one module a language. */
function words(): Plugin {
  const own = new URL("src/words/sentences.json", import.meta.url);
  const guide = new URL("../src/steadfeed/visit/data/sentences.json", import.meta.url);
  type Catalog = Record<string, Record<string, string>>;
  return {
    name: "words",
    resolveId: (id) => (id.startsWith("virtual:words/") ? `\0${id}` : undefined),
    load(id) {
      const language = id.startsWith("\0virtual:words/") ? id.slice(15) : null;
      if (!language) return undefined;
      for (const file of [own, guide]) this.addWatchFile(file.pathname);
      const read = (file: URL): [string, Record<string, string>][] => Object.entries(JSON.parse(readFileSync(file, "utf8")) as Catalog);
      const all = [...read(guide), ...read(own).map(([code, said]) => [`app.${code}`, said] as const)];
      const one = Object.fromEntries(all.map(([code, said]) => [code, said[language]]));
      return `export default ${JSON.stringify(one)}`;
    },
  };
}

export default defineConfig({
  plugins: [words(), svelte(), appFiles()],
  server: { fs: { allow: [".."] } },
  build: {
    target: "es2022",
    minify: "terser",
    terserOptions: { ecma: 2020, module: true, compress: { passes: 2, ecma: 2020 }, format: { comments: false } },
    outDir: process.env.STEADFEED_APP_OUT ?? "../src/steadfeed/web/app",
    emptyOutDir: true,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    cssCodeSplit: true,
    rollupOptions: {
      input: { app: "index.html", "service-worker": "src/service-worker.ts" },
      output: {
        // few files: many small ones compress badly and cost a round trip each
        manualChunks: (id) => {
          if (id.includes("uplot") || id.includes("/src/chart/")) return "chart";
          if (/screens\/(HandOver|TakeOver|spot\/)/.test(id)) return "field";
          if (/src\/screens\/(?!FirstRun|Today|Pair|begin)|src\/shell\/(Findings|Photos)|src\/physics\/provisional|src\/api\/live|src\/device\/photo/.test(id)) return "visit";
          if (id.includes("virtual:words")) return undefined;
          return id.includes("service-worker") ? undefined : "app";
        },
        entryFileNames: (chunk) => (chunk.name === "service-worker" ? "service-worker.js" : "assets/[name]-[hash].js"),
      },
    },
  },
});
