/**
 * Checks and marker readers of other extensions, loaded into the worker. What they do wrong is theirs: it becomes a finding
 * that names the extension, and the analysis goes on without what failed.
 */
import { z } from 'zod';
import { catalogue } from '../../analysis/results/catalogue.ts';
import type { Check } from '../../analysis/checks/check.ts';
import type { Extras } from '../../analysis/pipeline.ts';
import { findingSchema, sectionSchema, type Finding, type Section } from '../../analysis/results/results.ts';
import type { MarkerReader } from '../../analysis/take/markers/marker-reader.ts';
import type { Plugin, Plugins } from './jobs.ts';

const isFunction = (value: unknown) => typeof value === 'function';

const check = z.object({
  id: z.string(),
  looksFor: z.string(),
  run: z.custom<Check['run']>(isFunction),
  section: z.custom<NonNullable<Check['section']>>(isFunction).optional(),
});

const markerReader = z.object({
  what: z.string(),
  recognises: z.custom<MarkerReader['recognises']>(isFunction),
  read: z.custom<MarkerReader['read']>(isFunction),
});

/** What such a module exports. */
const exported = z.object({
  checks: z.array(check).optional(),
  markerReaders: z.array(markerReader).optional(),
});

/** What its functions give back. */
const findings = z.array(findingSchema);
const sections = z.union([z.array(sectionSchema), sectionSchema.transform((one) => [one]), z.null()]);
const time = z.number().finite();
const markers = z
  .object({
    markers: z.array(z.object({ timeS: time, endS: time.nullable(), label: z.string(), place: z.string() })),
    notices: z.array(
      z.object({
        kind: z.enum([
          'marker-outside',
          'unreadable-marker',
          'unused-file',
          'bad-samples',
          'header-disagrees',
        ]),
        file: z.string(),
        place: z.string(),
        message: z.string(),
      }),
    ),
  })
  .nullable();

/** Longer reasons are somebody's whole trace. */
const longestReason = 200;

/** Tells once of each thing that failed. */
type Fail = (what: string, error: unknown) => void;

/**
 * @param load imports one module
 * @returns what could be loaded, and as the last check one that tells what could not or failed while it ran
 */
export async function loadExtras(
  plugins: Plugins,
  load: (address: string) => Promise<unknown>,
): Promise<Required<Extras>> {
  const failures = new Map<string, Finding>();
  const extraChecks: Check[] = [];
  const extraMarkerReaders: MarkerReader[] = [];
  for (const plugin of plugins) {
    const fail = failIn(plugin, failures);
    try {
      const module = exported.parse({ ...((await load(plugin.address)) as object) });
      extraChecks.push(...(module.checks ?? []).map((each) => isolated(each, fail)));
      extraMarkerReaders.push(...(module.markerReaders ?? []).map((each) => isolatedReader(each, fail)));
    } catch (error) {
      fail('its module cannot be loaded', error);
    }
  }
  if (plugins.length > 0) extraChecks.push(teller(failures));
  return { extraChecks, extraMarkerReaders };
}

function failIn({ name }: Plugin, failures: Map<string, Finding>): Fail {
  return (what, error) => {
    const reason = error instanceof z.ZodError ? reasonOf(error) : String(error);
    const line = reason.split('\n')[0].slice(0, longestReason);
    failures.set(`${name} ${what}`, {
      kind: 'extension-failed',
      severity: catalogue['extension-failed'].severity,
      message: `the extension ${name}: ${what} (${line}); the analysis went on without it`,
      mend: catalogue['extension-failed'].mend,
    });
  };
}

function reasonOf(error: z.ZodError): string {
  const [{ path, message }] = error.issues;
  return `${path.map(String).join('.') || 'what it gave'}: ${message}`;
}

const teller = (failures: ReadonlyMap<string, Finding>): Check => ({
  id: 'extensions',
  looksFor: 'Checks and marker readers of other extensions that failed.',
  run: () => [...failures.values()],
});

/** What it shows is asked for together with what it finds, so that all of its failures are known by then. */
function isolated({ id, looksFor, run, section }: z.output<typeof check>, fail: Fail): Check {
  let shown: Section[] | null = null;
  return {
    id,
    looksFor,
    run: (study) => {
      shown = guarded(
        () => sections.parse(section?.(study) ?? null),
        null,
        `the section of its check "${id}" failed`,
        fail,
      );
      return guarded(() => findings.parse(run(study)), [], `its check "${id}" failed`, fail);
    },
    section: () => shown,
  };
}

function isolatedReader(reader: z.output<typeof markerReader>, fail: Fail): MarkerReader {
  const what = `its reader of ${reader.what} failed`;
  return {
    what: reader.what,
    recognises: (name, head) => guarded(() => reader.recognises(name, head) === true, false, what, fail),
    async read(file, audio) {
      try {
        return markers.parse(await reader.read(file, audio));
      } catch (error) {
        fail(`${what} on ${file.name}`, error);
        return null;
      }
    },
  };
}

function guarded<T>(work: () => T, otherwise: T, what: string, fail: Fail): T {
  try {
    return work();
  } catch (error) {
    fail(what, error);
    return otherwise;
  }
}
