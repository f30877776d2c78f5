// Starts the module that computes. The page's version stands in the address, so that no cache mixes two versions.
const version = self.location.search;
const { default: init } = await import(`./solver.js${version}`);
await init({ module_or_path: new URL(`./solver_bg.wasm${version}`, self.location) });
