/** Sound for the page: what it asks for by a report's track, found in the take's files. */
import type { Report } from '../../analysis/results/results.ts';
import type { ClipMessage, ClipWant } from '../protocol/messages.ts';
import type { ReportServices, TakeAddress } from './report-services.ts';

/**
 * Times of a report count by the first file's clock; a file that began later, or whose clock ran otherwise, is read where
 * that moment lies in it.
 *
 * @returns clips in the order asked for, null where there is no sound, and one line that says why
 */
export async function soundOf(
  services: ReportServices,
  take: TakeAddress,
  report: Report,
  wants: readonly ClipWant[],
): Promise<{ clips: (ClipMessage | null)[]; why: string | null }> {
  const orders = wants.flatMap(({ track, fromS, toS }, i) => {
    const heard = report.tracks.at(track);
    if (heard === undefined) return [];
    const { file, track: ownTrack } = heard;
    const clock = clockOf(report, file);
    const own = (timeS: number) => (timeS - clock.startS) / clock.pace;
    return [{ i, clock, order: { file, track: ownTrack, fromS: own(fromS), toS: own(toS) } }];
  });
  const found = await services.clips(
    take,
    orders.map(({ order }) => order),
  );
  const clips = wants.map((): ClipMessage | null => null);
  orders.forEach(({ i, clock }, k) => {
    const clip = found[k] ?? null;
    clips[i] = clip && {
      samples: clip.samples,
      sampleRate: clip.sampleRate / clock.pace,
      fromS: clock.startS + clip.fromS * clock.pace,
    };
  });
  const missing = orders.find((_, k) => (found[k] ?? null) === null);
  const why =
    orders.length < wants.length
      ? 'Some hits are known from markers alone, so there is no sound to show.'
      : missing !== undefined
        ? `There is no sound of some hits in ${missing.order.file} any more.`
        : null;
  return { clips, why };
}

/** When a file's first sample was, and seconds of the first file's clock to a second of its own. */
function clockOf({ files }: Report, file: string): { startS: number; pace: number } {
  const row = files?.find((each) => each.file === file);
  return { startS: row?.startS ?? 0, pace: 1 + (row?.clockPpm ?? 0) * 1e-6 };
}
