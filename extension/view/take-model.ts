/** The report as the page looks things up in it: which hits are a channel's, a sector's, a pin's. */
import type { SectorExtent } from '../../analysis/report/panel.ts';
import {
  type ChannelFacts,
  type Reading,
  channelsOf,
  readingsOf,
  sectorsOf,
} from '../../analysis/report/reading.ts';
import { sectorExtents } from '../../analysis/report/plot-places.ts';
import type { Report } from '../../analysis/results/results.ts';
import type { ReportMessage } from '../protocol/messages.ts';
import { type HitColumns, type ReportHead, none } from '../protocol/page-report.ts';

export interface TakeModel {
  readonly message: ReportMessage;
  readonly head: ReportHead;
  readonly hits: HitColumns;
  readonly channels: readonly ChannelFacts[];
  readonly sectors: readonly string[];
  readonly columns: readonly SectorExtent[];
  readonly readings: readonly Reading[];
  /** Hits of a channel, in time order. */
  hitsOf(channel: string): Int32Array;
  /** Where along the barrel a hit's pin stands; NaN where it has none. */
  placeOf(hit: number): number;
  channelOf(hit: number): string | null;
  sectorOf(hit: number): string | null;
  /** null where the hit is used */
  whyOf(hit: number): string | null;
  nameOf(channel: string | null): string;
  /** Seconds from the take's first to its last hit. */
  readonly endS: number;
}

export function modelOf(message: ReportMessage): TakeModel {
  const { head, hits } = message;
  const report = asReport(head);
  const channels = channelsOf(report);
  const sectors = sectorsOf(report);
  const columns = sectorExtents(report);
  const names = new Map(channels.map(({ id, name }) => [id, name]));
  const byChannel = sorted(hits);
  const first = columns[0]?.from ?? 0;
  const steps = head.barrel?.steps ?? 0;
  const at = (list: readonly string[], index: number) => (index === none ? null : list[index]);
  const middles = new Map(columns.map(({ sector, from, to }) => [sector, (from + to) / 2]));
  return {
    message,
    head,
    hits,
    channels,
    sectors,
    columns,
    readings: readingsOf(report),
    hitsOf: (channel) => byChannel[hits.channels.indexOf(channel)] ?? new Int32Array(0),
    placeOf: (hit) => {
      if (steps === 0) return middles.get(at(hits.sectors, hits.sector[hit]) ?? '') ?? NaN;
      const step = hits.step[hit];
      return step === none ? NaN : (step < first ? step + steps : step) + 0.5;
    },
    channelOf: (hit) => at(hits.channels, hits.channel[hit]),
    sectorOf: (hit) => at(hits.sectors, hits.sector[hit]),
    whyOf: (hit) => at(hits.whys, hits.why[hit]),
    nameOf: (channel) => (channel === null ? 'unknown' : (names.get(channel) ?? channel)),
    endS: hits.timeS.at(-1) ?? 0,
  };
}

/** The words of a report do not depend on its hits. */
export function asReport(head: ReportHead): Report {
  return { ...head, hits: [] };
}

/** Hits by channel in one pass over two: how many each has, then where each goes. */
function sorted({ channel, channels }: HitColumns): Int32Array[] {
  const counts = channels.map(() => 0);
  for (const index of channel) if (index !== none) counts[index]++;
  const lists = counts.map((count) => new Int32Array(count));
  const filled = counts.map(() => 0);
  channel.forEach((index, hit) => {
    if (index !== none) lists[index][filled[index]++] = hit;
  });
  return lists;
}
