/** The drawing of the rooms in DEVELOPERS.md, as Mermaid text: arrows run from the room that imports to what it imports. */
import { importsOf, roomImports } from './imports.ts';

/** Folders of the product; tests may import anything. */
export const productFolders = ['analysis', 'extension', 'samples'];

/** Mermaid's node names hold no slash. */
const nameOf = (room: string) => room.replace(/\.ts$/, '').replaceAll(/\W/g, '_');
const labelOf = (room: string) => room.replace(/^(analysis|extension)\//, '');

export function drawing(): string {
  const rooms = roomImports(importsOf(productFolders));
  const boxes = ['analysis', 'extension'].flatMap((top) => [
    `  subgraph ${top}`,
    ...[...rooms.keys()]
      .filter((room) => room.startsWith(`${top}/`))
      .sort()
      .map((room) => `    ${nameOf(room)}["${labelOf(room)}"]`),
    '  end',
  ]);
  const arrows = [...rooms]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .flatMap(([room, to]) => to.map((other) => `  ${nameOf(room)} --> ${nameOf(other)}`));
  return ['```mermaid', 'flowchart TD', ...boxes, ...arrows, '```'].join('\n');
}
