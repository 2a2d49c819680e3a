/** The report page's frame: everything it may load is named here, and nothing else loads. */

/**
 * Only this page's own script and style, known by the nonce; no picture, font, frame, form, connection or base
 * address. Sound is made from samples in memory, which is no load.
 */
export function policyOf(nonce: string): string {
  return [
    "default-src 'none'",
    `script-src 'nonce-${nonce}'`,
    `style-src 'nonce-${nonce}'`,
    "base-uri 'none'",
    "form-action 'none'",
    // A policy that a string could get round by becoming markup or code: none may.
    "require-trusted-types-for 'script'",
    "trusted-types 'none'",
  ].join('; ');
}

/**
 * @param script address of view.js
 * @param style  address of view.css
 * @param nonce  new for every page, from a source that cannot be guessed
 */
export function reportHtml(script: string, style: string, nonce: string): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${escaped(policyOf(nonce))}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Shimwright report</title>
<link rel="stylesheet" nonce="${nonce}" href="${escaped(style)}">
</head>
<body>
<div id="page"><p class="waiting" role="status">Reading the report…</p></div>
<script type="module" nonce="${nonce}" src="${escaped(script)}"></script>
</body>
</html>
`;
}

/** Text as an attribute's value or an element's content. */
export function escaped(text: string): string {
  return text.replace(/[&<>"]/g, (character) => `&#${character.charCodeAt(0)};`);
}
