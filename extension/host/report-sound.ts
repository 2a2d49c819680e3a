/** Sound for the page: what it asks for by a report's track, found in the take's files. */
import type { Report } from '../../analysis/results/results.ts';
import type { ClipMessage, ClipWant } from '../protocol/messages.ts';
import type { ReportServices, TakeAddress } from './report-services.ts';

/** @returns clips in the order asked for, null where there is no sound, and one line that says why */
export async function soundOf(
  services: ReportServices,
  take: TakeAddress,
  report: Report,
  wants: readonly ClipWant[],
): Promise<{ clips: (ClipMessage | null)[]; why: string | null }> {
  const orders = wants.flatMap(({ track, fromS, toS }, i) => {
    const heard = report.tracks.at(track);
    return heard === undefined ? [] : [{ i, file: heard.file, track: heard.track, fromS, toS }];
  });
  const found = await services.clips(
    take,
    orders.map(({ file, track, fromS, toS }) => ({ file, track, fromS, toS })),
  );
  const clips = wants.map((): ClipMessage | null => null);
  orders.forEach(({ i }, k) => (clips[i] = found[k] ?? null));
  const missing = orders.find((_, k) => (found[k] ?? null) === null);
  const why =
    orders.length < wants.length
      ? 'Some hits are known from markers alone, so there is no sound to show.'
      : missing !== undefined
        ? `There is no sound of some hits in ${missing.file} any more.`
        : null;
  return { clips, why };
}
