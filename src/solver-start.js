// Starts the module that computes. The page's version stands in the address, so that no cache mixes two versions.
//
// A helper is sent the compiled module by the worker that it helps; it listens before anything is waited for.
const sent = self.name === "helper" && new Promise((take) => (self.onmessage = ({ data }) => take(data)));
const version = self.location.search;
const { default: init } = await import(`./solver.js${version}`);
await init({ module_or_path: sent ? await sent : new URL(`./solver_bg.wasm${version}`, self.location) });
