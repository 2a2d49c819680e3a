/** Sound of a take in short clips, read where it is asked for; files stay open while the page does. */
import { openAudio, type AudioFile } from '../../analysis/take/audio/open.ts';
import type { Report } from '../../analysis/results.ts';
import type { Clip, ClipWant } from '../protocol/messages.ts';
import type { ReportServices, TakeAddress } from './report-services.ts';

/**
 * Compressed files are decoded whole to be read at all, and then take 4 bytes a sample. So many takes are kept open at
 * once: the one shown and a few that it is compared with.
 */
const takesKeptOpen = 3;

interface OpenTake {
  /** Opened when first asked for: a folder may hold files that are no audio. */
  readonly audioOf: (name: string) => Promise<AudioFile> | undefined;
  readonly close: () => Promise<void> | void;
}

export class TakeSounds {
  private readonly takes = new Map<TakeAddress, Promise<OpenTake>>();

  constructor(private readonly services: ReportServices) {}

  /** @returns clips in the order asked for, null where the take has no sound there, and one line that says why */
  async clips(
    take: TakeAddress,
    report: Report,
    wants: readonly ClipWant[],
  ): Promise<{ clips: (Clip | null)[]; why: string | null }> {
    const open = await this.open(take);
    let why: string | null = null;
    const clips: (Clip | null)[] = [];
    for (const want of wants) {
      const track = report.tracks.at(want.track);
      const audio = track === undefined ? undefined : open.audioOf(track.file);
      if (track === undefined || audio === undefined) {
        why =
          track === undefined
            ? 'This hit is known from a marker alone, so there is no sound to show.'
            : `The file ${track.file} is no longer in the take’s folder, so there is no sound to show.`;
        clips.push(null);
        continue;
      }
      const file = await audio;
      const from = Math.max(0, Math.round(want.fromS * file.sampleRate));
      const to = Math.min(file.length, Math.round(want.toS * file.sampleRate));
      if (track.track >= file.tracks || to <= from) clips.push(null);
      else
        clips.push({
          sampleRate: file.sampleRate,
          fromS: from / file.sampleRate,
          samples: await file.read(track.track, from, to),
        });
    }
    return { clips, why };
  }

  /** Files may have changed, or nobody looks any longer. */
  async forget(): Promise<void> {
    const open = [...this.takes.values()];
    this.takes.clear();
    for (const take of open) await take.then(({ close }) => close()).catch(() => undefined);
  }

  private open(take: TakeAddress): Promise<OpenTake> {
    let open = this.takes.get(take);
    if (open === undefined) {
      open = this.openFiles(take);
      open.catch(() => this.takes.delete(take));
    } else this.takes.delete(take);
    this.takes.set(take, open); // last is youngest
    const [eldest] = this.takes.keys();
    if (this.takes.size > takesKeptOpen) {
      const closing = this.takes.get(eldest);
      this.takes.delete(eldest);
      void closing?.then(({ close }) => close()).catch(() => undefined);
    }
    return open;
  }

  private async openFiles(take: TakeAddress): Promise<OpenTake> {
    const opened = await this.services.openFiles(take);
    const audio = new Map<string, Promise<AudioFile>>();
    const audioOf = (name: string) => {
      const known = audio.get(name);
      const file = opened.files.find((source) => source.name === name);
      if (known !== undefined || file === undefined) return known;
      const opening = openAudio(file);
      opening.catch(() => audio.delete(name));
      audio.set(name, opening);
      return opening;
    };
    return { audioOf, close: () => opened.close() };
  }
}
