/** Checks and marker readers of other extensions, loaded into the worker. */
import { z } from 'zod';
import type { Check } from '../../../analysis/checks/check.ts';
import type { Extras } from '../../../analysis/pipeline.ts';
import type { MarkerReader } from '../../../analysis/take/markers/marker-reader.ts';
import type { Plugins } from './jobs.ts';

const check = z.object({
  id: z.string(),
  looksFor: z.string(),
  run: z.custom<Check['run']>((value) => typeof value === 'function'),
});

const markerReader = z.object({
  what: z.string(),
  recognises: z.custom<MarkerReader['recognises']>((value) => typeof value === 'function'),
  read: z.custom<MarkerReader['read']>((value) => typeof value === 'function'),
});

/** What such a module exports. */
const exported = z.object({
  checks: z.array(check).optional(),
  markerReaders: z.array(markerReader).optional(),
});

/**
 * @param load imports one module
 * @throws Error where a module cannot be loaded or exports something else; that is its author's to mend
 */
export async function loadExtras(
  plugins: Plugins,
  load: (plugin: string) => Promise<unknown>,
): Promise<Required<Extras>> {
  const extraChecks: Check[] = [];
  const extraMarkerReaders: MarkerReader[] = [];
  for (const plugin of plugins) {
    const module = exported.parse({ ...((await load(plugin)) as object) });
    extraChecks.push(...(module.checks ?? []));
    extraMarkerReaders.push(...(module.markerReaders ?? []));
  }
  return { extraChecks, extraMarkerReaders };
}
