/** The marker readers, in the order in which they are asked. */
import { aiffMarks } from './aiff-mark.ts';
import { chapters } from './chapters.ts';
import { commentChapters } from './comment-chapters.ts';
import { delimitedText } from './delimited-text.ts';
import { flacCuesheet } from './flac-cuesheet.ts';
import { id3Chapters } from './id3-chapters.ts';
import type { MarkerReader } from './marker-reader.ts';
import { midiText } from './midi-text.ts';
import { mp4Chapters } from './mp4-chapters.ts';
import { riffCues } from './riff-cue.ts';
import { subRip } from './subtitles.ts';
import { webVtt } from './webvtt.ts';

export const markerReaders: readonly MarkerReader[] = [
  riffCues,
  aiffMarks,
  flacCuesheet,
  commentChapters,
  mp4Chapters,
  id3Chapters,
  midiText,
  webVtt,
  subRip,
  // Before tables: a chapter file may end in .txt too.
  chapters,
  delimitedText,
];
