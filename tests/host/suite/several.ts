/** Several takes at once: on as many threads as the computer has cores to spare, and the same bytes as on one. */
import * as vscode from 'vscode';
import { at, put, read, run, there, type TakeReport } from './folder.ts';
import { equal, ok, test, until } from './harness.ts';

const analysed = ['1-march', '2-april'];

/**
 * Adds its test where it is called: they run in order. What the computer has is asked for by the extension in the same
 * global scope as the tests', so that other computers can be played.
 *
 * @param cores where the extension asks for the count of cores: the object, its property, and what that is for a count
 * @param threads where it finds the class of a thread
 */
export function testsOfSeveral<K extends string>(
  cores: { [key in K]: unknown },
  property: K,
  counted: (count: number) => unknown,
  threads: { Worker: unknown },
): void {
  test(
    '2',
    'several takes at once: a fault in one is told, the rest are the same as one by one',
    async () => {
      const before = Object.getOwnPropertyDescriptor(cores, property);
      const { Worker } = threads;
      let started = 0;
      threads.Worker = new Proxy(Worker as new () => object, {
        construct: (target, given) => {
          started++;
          return Reflect.construct(target, given) as object;
        },
      });
      const analyseOn = async (count: number, folder: string) => {
        await put(await read('machine.jsonc'), folder, 'machine.jsonc');
        await put(await read('pattern.csv'), folder, 'pattern.csv');
        for (const take of analysed) {
          await put(await read('takes', take, 'hits.csv'), folder, 'takes', take, 'hits.csv');
          await put(await read('takes', take, 'take.jsonc'), folder, 'takes', take, 'take.jsonc');
        }
        // Without a date it is the first, and the others' turns come although it fails.
        await put('{ "tempo": "fast" }\n', folder, 'takes', 'broken', 'take.jsonc');
        Object.defineProperty(cores, property, { value: counted(count), configurable: true });
        started = 0;
        return run<TakeReport[]>('analyseStaleTakes', at(folder));
      };
      try {
        equal((await analyseOn(2, 'one-by-one')).length, 2, 'reports one by one');
        equal(started, 1, 'threads for two cores: one is the editor’s');
        equal((await analyseOn(4, 'at-once')).length, 2, 'reports at once');
        equal(started, 3, 'threads for four cores and three takes');
        for (const take of analysed)
          for (const name of ['report.json', 'report.md', 'report.svg', 'checks.svg'])
            ok(
              (await read('at-once', 'takes', take, name)) ===
                (await read('one-by-one', 'takes', take, name)),
              `${take}/${name} is the same`,
            );
        ok(!(await there('at-once', 'takes', 'broken', 'report.json')), 'the broken take has no report');
        await until(
          () => vscode.languages.getDiagnostics(at('at-once', 'takes', 'broken', 'take.jsonc')).length > 0,
          'its problem',
        );
      } finally {
        threads.Worker = Worker;
        if (before) Object.defineProperty(cores, property, before);
        else delete cores[property];
        for (const folder of ['one-by-one', 'at-once'])
          await vscode.workspace.fs.delete(at(folder), { recursive: true });
      }
    },
  );
}
