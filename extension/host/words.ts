/** People's words where the editor would read more into them: names of files and channels come from strangers. */
import { oneLine } from '../../analysis/report/markdown-text.ts';

/** One line of visible text, for the view, the Problems panel and tabs, which show it as it is. */
export function shown(text: string): string {
  return oneLine(text);
}

/** For notifications, in which "[…](…)" would be a link, even to a command. */
export function said(text: string): string {
  return oneLine(text).replace(/\](?=\()/g, '] ');
}

/** For pickers and their like, in which "$(…)" would be a picture. */
export function picked(text: string): string {
  return oneLine(text).replace(/\$(?=\()/g, '$ ');
}
