/** What a file of a take folder is, by its name and its first bytes. */
import type { SourceFile } from '../ports.ts';
import { takeFileName } from './description.ts';
import { markerReaders } from './markers/index.ts';
import type { MarkerReader } from './markers/marker-reader.ts';

export type Kind = 'audio' | 'markers' | 'set-apart' | 'unknown';

/** What the tool writes, and what it reads by name elsewhere: never audio, never markers. */
const byName = new Set([takeFileName, 'report.json', 'report.md', 'report.svg', 'corrections.csv']);

/** Notes and pictures that people keep beside a take; they need no remark. */
const harmless =
  /^(\.|readme|notes?\b|thumbs\.db$|desktop\.ini$)|~$|\.(md|markdown|pdf|html?|hbs|png|jpe?g|gif|webp|svg|heic|tiff?|bmp|bak|tmp)$/i;

/** Names that audio-decode's formats go by. */
const audioName =
  /\.(wav|wave|bwf|rf64|bw64|flac|aiff?|aifc|mp3|ogg|oga|opus|m4a|aac|caf|qoa|webm|wma|amr|tta|wv|mpc|ac3|dsf|dff)$/i;

/** Bytes enough for every signature asked about here and in the marker readers. */
const headBytes = 64;

export async function kindOf(
  file: SourceFile,
  readers: readonly MarkerReader[] = markerReaders,
): Promise<Kind> {
  if (byName.has(file.name)) return 'set-apart';
  const head = await file.read(0, headBytes);
  if (!/^\./.test(file.name) && (audioName.test(file.name) || soundsLikeAudio(head))) return 'audio';
  if (harmless.test(file.name)) return 'set-apart';
  return readers.some((reader) => reader.recognises(file.name, head)) ? 'markers' : 'unknown';
}

function soundsLikeAudio(head: Uint8Array): boolean {
  const text = String.fromCharCode(...head.subarray(0, 12));
  return /^((RIFF|RIFX|RF64|BW64)....WAVE|FORM....AIF[FC]|fLaC|OggS|caff)/s.test(text);
}
