/** What is said of solos, by the terminal and the editor alike. */
import { nobodyStruck, type Solo, type Solos } from '../../analysis/hits/solos/solos.ts';
import type { Machine } from '../../analysis/machine/machine.ts';
import { minutesAndSeconds } from '../../analysis/words/minutes.ts';
import { channelsIn, repeated } from './new-machine.ts';
import { InputProblem } from '../../analysis/input/problem.ts';

/**
 * Ids as a person typed them.
 *
 * @throws InputProblem where one is no channel's, or is there twice
 */
export function orderIn(typed: string, { description: { channels } }: Machine, place: string): string[] {
  const order = channelsIn(typed);
  const named = order.filter((id) => id !== nobodyStruck);
  const known = channels.map(({ id }) => id);
  const unknown = named.find((id) => !known.includes(id));
  const mend = `its channels are ${known.join(', ')}; "${nobodyStruck}" is what is none of them`;
  if (unknown !== undefined)
    throw new InputProblem(place, '', `"${unknown}" is no channel of this machine`, mend);
  const twice = repeated(named);
  if (twice !== null) throw new InputProblem(place, '', `"${twice}" is there twice`, mend);
  if (named.length === 0) throw new InputProblem(place, '', 'no channel was named', mend);
  return order;
}

/** A line a striker: where it was struck, and its microphone; then what ran into full scale. */
export function soloWords({ solos, tracks, clipped }: Solos): string[] {
  const several = tracks.length > 1;
  const strikers = solos.map(({ channel, file, stretch, tracks: own }) => {
    const { strikes, firstS, lastS } = stretch;
    const where = `${channel}: ${strikes} strikes in ${file}, ${minutesAndSeconds(firstS)} to ${minutesAndSeconds(lastS)}`;
    return several ? `${where}; ${microphoneOf(own, tracks)}` : where;
  });
  const tooLoud = clipped.map(
    ({ file, track, samples }) =>
      `track ${track} of ${file} runs into full scale (${samples} samples): record it quieter, neither levels nor voices from it are sure`,
  );
  return [...strikers, ...tooLoud];
}

function microphoneOf(own: Solo['tracks'], tracks: Solos['tracks']): string {
  const severalFiles = new Set(tracks.map(({ file }) => file)).size > 1;
  const name = (t: number) =>
    severalFiles ? `${tracks[t].file}, track ${tracks[t].track}` : `track ${tracks[t].track}`;
  if (own.length === 1) return `its microphone is ${name(own[0])}`;
  if (own.length === 0) return 'no track hears it clearly';
  return `which microphone is its own cannot be told: ${own.map(name).join(' and ')} hear it nearly alike`;
}

/**
 * take.jsonc's "tracks" as the microphones stand, with the recording's own file name; null where there is one track, which needs none.
 * A channel that several tracks hear nearly alike stands with each of them.
 */
export function tracksText({ solos, tracks }: Solos): string | null {
  if (tracks.length < 2) return null;
  const rows = tracks.flatMap(({ file, track }, t) => {
    const channels = solos.filter(({ tracks: own }) => own.includes(t)).map(({ channel }) => channel);
    if (channels.length === 0) return [];
    const ids = channels.map((id) => JSON.stringify(id)).join(', ');
    return [`  { "file": ${JSON.stringify(file)}, "track": ${track}, "channels": [${ids}] }`];
  });
  return rows.length === 0 ? null : `"tracks": [\n${rows.join(',\n')}\n]`;
}
