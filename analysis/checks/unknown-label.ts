import { finding } from '../results/catalogue.ts';
import { grouped } from '../numbers/grouped.ts';
import { insteadOf, nearest } from '../input/nearest.ts';
import type { Marker } from '../take/take.ts';
import type { Check } from './check.ts';
import { counted, listed } from '../words/names.ts';

/** Labels of one kind that are shown; more would not be read. */
const mostLabels = 3;

/**
 * Labels that name nothing are notes, and notes are a person's own; two kinds are worth a word: one that all but names a
 * channel or a sector, and any where markers are all there is and none of them names a strike.
 */
export const unknownLabel: Check = {
  id: 'unknown-label',
  looksFor: 'Markers whose label is nearly a channel’s or a sector’s, and marker takes that name no strike.',
  run: ({ machine, take }) => {
    const { channels, barrel } = machine.description;
    const names = [...channels.map(({ id }) => id), ...barrel.sectors.map(({ id }) => `sector:${id}`)];
    const nothing = take.tracks.length === 0 && !take.markers.some(({ meaning }) => meaning.kind === 'hit');
    const notes = take.markers.filter(({ meaning }) => meaning.kind === 'note');
    const alike = grouped(
      notes,
      (marker) => `${marker.file}\n${marker.label === ''}\n${nearest(wordOf(marker), names) ?? ''}`,
    );
    return [...alike.values()].flatMap((markers) => {
      const { file, place } = markers[0];
      const meant = nearest(wordOf(markers[0]), names);
      if (meant === null && !nothing) return [];
      const message = `${counted(markers.length, 'marker')} of ${file} ${saying(markers)}: ${insteadOf(wordOf(markers[0]), names)}`;
      return [finding('unknown-sound', message, { file, place })];
    });
  },
};

function saying(markers: readonly Marker[]): string {
  const [be, have] = markers.length === 1 ? ['is', 'has'] : ['are', 'have'];
  if (markers[0].label === '')
    return `${have} no label, and no channel is called "${wordOf(markers[0])}" like the file`;
  const words = [...new Set(markers.map(wordOf))].map((word) => `"${word}"`);
  const name = words.length === 1 ? 'names' : 'name';
  return `${be} labelled ${listed(words, mostLabels)}, which ${name} no channel and no sector`;
}

/** A marker without a label is called as its file is. */
function wordOf({ label, file }: Marker): string {
  return label === '' ? file.replace(/\.[^.]*$/, '') : label;
}
