/// <reference types="svelte" />
/// <reference types="vite/client" />
declare module "virtual:words/*" {
  const sentences: Record<string, string>;
  export default sentences;
}
