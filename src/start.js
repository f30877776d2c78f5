// Starts the page, or says in plain words why it cannot start.
//
// A file of its own: a strict content policy allows no script inside the page.

const say = (sentence, error) => {
  const state = document.getElementById("start-state");
  if (!state) return;
  state.setAttribute("role", "alert");
  state.textContent = error ? `${sentence} (${error})` : sentence;
  document.body.dataset.state = "error";
};

const start = async () => {
  if (typeof WebAssembly !== "object") {
    say("The page cannot start: this browser has no WebAssembly, or it is switched off.");
    return;
  }
  const script = document.querySelector("link[rel=modulepreload]").href;
  const module = document.querySelector("link[rel=preload][as=fetch]").href;
  let bindings;
  try {
    bindings = await import(script);
  } catch (error) {
    say("The page cannot start: its script could not be loaded. Check the connection and load the page again.", error);
    return;
  }
  window.wasmBindings = bindings;
  try {
    await bindings.default({ module_or_path: module });
  } catch (error) {
    const isPolicy = error instanceof WebAssembly.CompileError && /policy|unsafe-eval/i.test(error.message);
    say(
      isPolicy
        ? "The page cannot start: this site's content policy forbids WebAssembly; it must allow 'wasm-unsafe-eval'."
        : "The page cannot start: its WebAssembly module could not be loaded or run. Load the page again; an old browser may lack what it needs.",
      error,
    );
  }
};

start();
