/**
 * The integer solver that the core asks for (analysis/ports.ts): HiGHS, compiled to WebAssembly. The host hands in the
 * bytes of highs.wasm (npm "highs", export "highs/runtime"), because each finds them its own way: Node reads the
 * file beside its bundle (solver-node.ts), a page or worker fetches it.
 */
import loadHighs, { type Highs, type Model } from 'highs';
import type { IntegerSolution, IntegerSolver } from '../../analysis/ports.ts';

/**
 * A solver that blocks its thread while it solves; start it in a worker where that matters.
 *
 * @param wasm gives highs.wasm's bytes; asked once, at the first solve
 */
export function highsSolver(wasm: () => Promise<Uint8Array<ArrayBuffer>>): IntegerSolver {
  let compiled: Promise<WebAssembly.Module> | undefined;
  let instance: Promise<Highs> | undefined;

  const start = async () => {
    compiled ??= wasm().then((bytes) => WebAssembly.compile(bytes));
    const code = await compiled;
    // Emscripten's own way in: "wasmModule", which the types promise, is passed over by the build for modules, and the
    // code would be looked for beside it.
    const instantiateWasm = (imports: WebAssembly.Imports, receive: (made: WebAssembly.Instance) => void) =>
      void WebAssembly.instantiate(code, imports).then(receive);
    return loadHighs({ instantiateWasm } as Parameters<typeof loadHighs>[0]);
  };

  const attempt = async (model: string, options: Options, presolve: 'on' | 'off') => {
    instance ??= start();
    const highs = await instance;
    try {
      return solveWith(highs, model, options, presolve);
    } catch (error) {
      // After an abort the instance's memory cannot be trusted; the compiled code can.
      instance = undefined;
      throw error;
    }
  };

  return (model, options = {}) =>
    attempt(model, options, 'on').catch((error: unknown) => {
      // HiGHS 1.15.3 aborts on some small programs when it presolves them anew after a restart of its search.
      if (error instanceof WebAssembly.RuntimeError) return attempt(model, options, 'off');
      throw error;
    });
}

type Options = NonNullable<Parameters<IntegerSolver>[1]>;

function solveWith(
  highs: Highs,
  text: string,
  { nodeLimit, start: guess }: Options,
  presolve: 'on' | 'off',
): IntegerSolution {
  return highs.withModel({ format: 'lp', data: text }, (model) => {
    // The gap is closed all the way: a proposal is called proven only when it is.
    model.options.set({ output_flag: false, mip_rel_gap: 0, random_seed: 0 });
    if (presolve === 'off') model.options.set({ presolve });
    if (nodeLimit !== undefined) model.options.set({ mip_max_nodes: nodeLimit });
    const columns = model.raw.getDimensions().numCols;
    if (columns === 0) throw new Error('the text is no model: it has no variables');
    const names = Array.from({ length: columns }, (_, column) => model.getColName(column));
    if (guess !== undefined) offer(model, names, guess);
    model.run();
    return read(highs, model, names);
  });
}

function read(highs: Highs, model: Model, names: readonly string[]): IntegerSolution {
  const code = model.getModelStatus();
  const { optimal, infeasible, unboundedOrInfeasible, solutionLimit } = highs.constants.modelStatus;
  const found = Number(model.info.get('primal_solution_status')) === FEASIBLE;
  const gap = Number(model.info.get('mip_gap'));
  const bound = Number(model.info.get('mip_dual_bound'));
  const values = found ? model.getSolution().colValue : [];
  return {
    status:
      code === optimal
        ? 'optimal'
        : code === infeasible || code === unboundedOrInfeasible
          ? 'infeasible'
          : code === solutionLimit
            ? 'node-limit'
            : 'other',
    objective: found ? model.getObjectiveValue() : null,
    gap: code === optimal ? 0 : found && Number.isFinite(gap) ? gap : null,
    bound: code !== infeasible && Number.isFinite(bound) ? bound : null,
    values: new Map(found ? names.map((name, i) => [name, values[i]]) : []),
  };
}

/** HiGHS's kSolutionStatusFeasible. */
const FEASIBLE = 2;

function offer(model: Model, names: readonly string[], guess: ReadonlyMap<string, number>) {
  const indices = names.flatMap((name, index) => (guess.has(name) ? [index] : []));
  if (indices.length === 0) return;
  try {
    model.setSolution({ indices, values: indices.map((index) => guess.get(names[index])!) });
  } catch {
    // HiGHS refuses a guess outside the bounds; the solve then starts without one.
  }
}
