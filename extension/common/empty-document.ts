/** A document of no page, to make elements in. */
import { parseHTML } from 'linkedom';

export function emptyDocument(): Document {
  return parseHTML('<!doctype html><html><body></body></html>').document;
}
