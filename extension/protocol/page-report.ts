/**
 * protocol/: what passes between the editor and the report page. This file: a report as it travels, its hits in flat
 * columns so that 200 000 of them cross at once; messages.ts: every message of either direction.
 */
import { z } from 'zod';
import { type HitRow, type Report, reportSchema } from '../../analysis/results/results.ts';

/** A report but for its hits. */
export const reportHeadSchema = reportSchema.omit({ hits: true });
export type ReportHead = z.output<typeof reportHeadSchema>;

/** Where an index column holds nothing. */
export const none = -1;

/** All columns have one entry a hit, ascending in time. Unknown: NaN in times, `none` in indices. */
export const hitColumnsSchema = z
  .object({
    timeS: z.instanceof(Float64Array),
    timeSdS: z.instanceof(Float64Array),
    latenessMs: z.instanceof(Float64Array),
    /** Index of the take's track. */
    track: z.instanceof(Int32Array),
    turn: z.instanceof(Int32Array),
    step: z.instanceof(Float64Array),
    /** Indices into the lists of the same names below. */
    channel: z.instanceof(Int32Array),
    sector: z.instanceof(Int32Array),
    /** Why the hit is set aside; `none` where it is used. */
    why: z.instanceof(Int32Array),
    channels: z.array(z.string()),
    sectors: z.array(z.string()),
    whys: z.array(z.string()),
  })
  .refine(
    (hits) =>
      [
        hits.timeSdS,
        hits.latenessMs,
        hits.track,
        hits.turn,
        hits.step,
        hits.channel,
        hits.sector,
        hits.why,
      ].every((column) => column.length === hits.timeS.length),
    'columns of one length',
  )
  .refine(
    (hits) =>
      isIndex(hits.channel, hits.channels) &&
      isIndex(hits.sector, hits.sectors) &&
      isIndex(hits.why, hits.whys),
    'indices into their lists',
  );
export type HitColumns = z.output<typeof hitColumnsSchema>;

function isIndex(column: Int32Array, list: readonly string[]): boolean {
  return column.every((index) => index >= none && index < list.length);
}

/** Takes the hits out of a report, in time order. */
export function packReport(report: Report): { head: ReportHead; hits: HitColumns } {
  const { hits, ...head } = report;
  const rows = inTimeOrder(hits);
  const channels = listOf((report.channels ?? []).map(({ id }) => id));
  const sectors = listOf((report.barrel?.sectors ?? []).map(({ id }) => id));
  const whys = listOf([]);
  const numbers = (of: (hit: HitRow) => number | null) => Float64Array.from(rows, (row) => of(row) ?? NaN);
  const indices = (of: (hit: HitRow) => number | null) => Int32Array.from(rows, (row) => of(row) ?? none);
  return {
    head,
    hits: {
      timeS: numbers(({ timeS }) => timeS),
      timeSdS: numbers(({ timeSdS }) => timeSdS),
      latenessMs: numbers(({ latenessMs }) => latenessMs),
      track: indices(({ track }) => track),
      turn: indices(({ turn }) => turn),
      step: Float64Array.from(rows, ({ step }) => step ?? none),
      channel: indices(({ channel }) => channels.indexOf(channel)),
      sector: indices(({ sector }) => sectors.indexOf(sector)),
      why: indices(({ state, why }) => (state === 'used' ? null : whys.indexOf(why ?? 'set aside'))),
      channels: channels.list,
      sectors: sectors.list,
      whys: whys.list,
    },
  };
}

function inTimeOrder(hits: readonly HitRow[]): readonly HitRow[] {
  const sorted = hits.every((hit, i) => i === 0 || hits[i - 1].timeS <= hit.timeS);
  return sorted ? hits : [...hits].sort((a, b) => a.timeS - b.timeS);
}

/** A list that grows by what is asked for and was not in it. */
function listOf(start: readonly string[]) {
  const list = [...start];
  const places = new Map(list.map((text, i) => [text, i]));
  const indexOf = (text: string | null): number | null => {
    if (text === null) return null;
    let place = places.get(text);
    if (place === undefined) {
      place = list.push(text) - 1;
      places.set(text, place);
    }
    return place;
  };
  return { list, indexOf };
}
