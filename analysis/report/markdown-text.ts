/** People's words made safe for Markdown: labels, names and notes stay text, whatever they contain. */

/** Line breaks and control characters, and the invisible ones that turn text round: they become a space or nothing. */
const breaks = /[\u0000-\u001F\u007F-\u009F\u2028\u2029]+/g;
const turners = /[\u061C\u200B\u200E\u200F\u202A-\u202E\u2060\u2066-\u2069\uFEFF]/g;
const loneSurrogates = /[\uD800-\uDBFF](?![\uDC00-\uDFFF])|(?<![\uD800-\uDBFF])[\uDC00-\uDFFF]/g;

/** One line of visible text: no line breaks, control characters, text turners or halves of characters. */
export function oneLine(text: string): string {
  return text.replace(breaks, ' ').replace(turners, '').replace(loneSurrogates, '\uFFFD').trim();
}

/** A joiner that no one sees, and that keeps a bare address or name from becoming a link or a mention. */
const joiner = '&#8288;';

/** Ends of names that readers of Markdown take for addresses even without "www.": two letters, and these. */
const domains =
  /(?<=[\p{L}\p{N}])\.(?=(?:[a-z]{2}|biz|com|edu|gov|net|org|pro|web|xxx|aero|asia|coop|info|museum|name|shop|рф|xn--[a-z0-9-]+)(?![\p{L}\p{N}]))/giu;

/**
 * Text for a place in Markdown where a paragraph, a heading or a table cell is read: HTML, links, images, emphasis,
 * code, pipes, addresses, mentions and list marks show as typed. CommonMark 0.31 §2.4 (backslash escapes) and §2.5
 * (entities); bare addresses, mentions and tables after the GitHub Flavored Markdown Spec 0.29.
 */
export function markdownText(text: string): string {
  return oneLine(text)
    .replace(/[\\`*_[\]|~$^]/g, '\\$&')
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    .replace(/(?<=\p{L}):(?=\S)/gu, `:${joiner}`)
    .replace(/@(?=\S)/g, `@${joiner}`)
    .replace(/(?<=www)\.(?=\S)/gi, `.${joiner}`)
    .replace(domains, `.${joiner}`)
    .replace(/^([#+=-]|\d+(?=[.)](?:\s|$)))/, (start) => (/\d/.test(start) ? `${start}\\` : `\\${start}`));
}
