import { sha256 } from '@noble/hashes/sha2.js';
import { harmless } from './document.js';

export interface PageParts {
  readonly title: string;
  readonly style: string;
  /** Lines of HTML; every text in them is escaped already. */
  readonly body: readonly string[];
  /** The page's one script; none = the policy allows none. */
  readonly script?: string;
  /** Plain data for the script, by the id of its element. */
  readonly data?: Readonly<Record<string, unknown>>;
  /** Further sources that the policy allows, e.g. `worker-src blob:`. */
  readonly policy?: readonly string[];
}

/**
 * One self-contained page: its style and its script are allowed by their hashes (CSP level 3, 2.3.1), everything else,
 * and every network, is forbidden. @throws Error when style or script could end their own element.
 */
export function pageOf({ title, style, body, script, data = {}, policy = [] }: PageParts): string {
  if (/<\/style/i.test(style) || (script !== undefined && /<\/script|<!--/i.test(script)))
    throw new Error('style or script would end its own element');
  const rules = [
    "default-src 'none'",
    `style-src '${hashOf(style)}'`,
    ...(script === undefined ? [] : [`script-src '${hashOf(script)}'`]),
    ...policy,
    "base-uri 'none'",
    "form-action 'none'",
  ].join('; ');
  return [
    '<!doctype html>',
    '<html lang="en">',
    '<head>',
    '<meta charset="utf-8">',
    `<meta http-equiv="Content-Security-Policy" content="${rules}">`,
    '<meta name="viewport" content="width=device-width, initial-scale=1">',
    '<meta name="referrer" content="no-referrer">',
    `<title>${escaped(title)}</title>`,
    `<style>${style}</style>`,
    '</head>',
    '<body>',
    ...body,
    // A data block: never run, whatever it holds.
    ...Object.entries(data).map(
      ([id, value]) => `<script type="application/json" id="${escaped(id)}">${inert(JSON.stringify(value))}</script>`,
    ),
    ...(script === undefined ? [] : [`<script>${script}</script>`]),
    '</body>',
    '</html>',
    '',
  ].join('\n');
}

/** JSON that no HTML parser takes for mark-up: the same value, `<` and line separators written as escapes. */
function inert(json: string): string {
  return json.replace(/[<>&\u2028\u2029]/g, (char) => `\\u${char.charCodeAt(0).toString(16).padStart(4, '0')}`);
}

function hashOf(text: string): string {
  return `sha256-${base64(sha256(new TextEncoder().encode(text)))}`;
}

/** Text as data: no character of it is mark-up, none is a command. */
export function escaped(text: string): string {
  return harmless(text)
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    .replaceAll("'", '&#39;');
}

/** Opens what may be wider than the screen: a keyboard can reach it to scroll (WCAG 2.2, 2.1.1). */
export function scrollOf(name: string, more = ''): string {
  return `<div class="scroll${more === '' ? '' : ` ${more}`}" tabindex="0" role="group" aria-label="${escaped(name)}">`;
}

const DIGITS = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';

/** RFC 4648, 4. The core has no Buffer. */
export function base64(bytes: Uint8Array): string {
  let text = '';
  for (let i = 0; i < bytes.length; i += 3) {
    const [a, b, c] = [bytes[i]!, bytes[i + 1] ?? 0, bytes[i + 2] ?? 0];
    const word = (a << 16) | (b << 8) | c;
    const left = bytes.length - i;
    text += DIGITS[word >> 18]! + DIGITS[(word >> 12) & 63]!;
    text += left > 1 ? DIGITS[(word >> 6) & 63]! : '=';
    text += left > 2 ? DIGITS[word & 63]! : '=';
  }
  return text;
}
