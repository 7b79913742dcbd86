import { sha256 } from '@noble/hashes/sha2.js';
import { type Block, harmless, type Line, type Span, spans } from './document.js';
import { STYLE } from './html-style.js';

/**
 * Renders blocks as one self-contained page: no script, no network, a policy that forbids both, printable. Every text is
 * data and escaped. Same blocks, same bytes.
 */
export function renderHtml(blocks: readonly Block[]): string {
  const title = blocks.find((block) => block.kind === 'title');
  const name = title === undefined ? 'telltale' : plain(title.line);
  const policy = `default-src 'none'; style-src 'sha256-${base64(sha256(new TextEncoder().encode(STYLE)))}'; base-uri 'none'; form-action 'none'`;
  return [
    '<!doctype html>',
    '<html lang="en">',
    '<head>',
    '<meta charset="utf-8">',
    `<meta http-equiv="Content-Security-Policy" content="${policy}">`,
    '<meta name="viewport" content="width=device-width, initial-scale=1">',
    '<meta name="referrer" content="no-referrer">',
    `<title>${escaped(name)}</title>`,
    `<style>${STYLE}</style>`,
    '</head>',
    '<body>',
    '<main>',
    ...blocks.flatMap(blockLines),
    '</main>',
    '</body>',
    '</html>',
    '',
  ].join('\n');
}

function blockLines(block: Block): string[] {
  switch (block.kind) {
    case 'title':
      return [`<h1${classOf(toneOf(block.line))}>${inline(block.line)}</h1>`];
    case 'heading': {
      const note = block.note === undefined ? '' : `<small>${escaped(block.note)}</small>`;
      return [`<h2>${escaped(block.text)}${note}</h2>`];
    }
    case 'subheading':
      return [`<h3>${inline(block.line)}</h3>`];
    case 'paragraph':
      return [`<p>${inline(block.line)}</p>`];
    case 'facts':
      return factLines(block.rows);
    case 'list': {
      const tag = block.ordered ? 'ol' : 'ul';
      return [
        ...(block.label === undefined ? [] : [`<p class="label">${escaped(block.label.trim())}</p>`]),
        `<${tag}>`,
        ...block.items.map((item) => `<li>${inline(item)}</li>`),
        `</${tag}>`,
      ];
    }
    case 'code':
      return [`<pre>${block.lines.map(escaped).join('\n')}</pre>`];
    case 'table':
      return tableLines(block);
  }
}

/** A row without a name goes on with the one before. */
function factLines(rows: readonly (readonly [string, Line])[]): string[] {
  return [
    '<dl>',
    ...rows.map(([name, line], i) =>
      name === '' && i > 0
        ? `<dd class="more">${inline(line)}</dd>`
        : `<dt>${escaped(name)}</dt><dd>${inline(line)}</dd>`,
    ),
    '</dl>',
  ];
}

/** The first column names the row. */
function tableLines({ head, rows, right }: Extract<Block, { kind: 'table' }>): string[] {
  const side = (i: number): string => (right?.includes(i) === true ? ' class="right"' : '');
  const named = head.some((text) => text !== '');
  return [
    '<div class="scroll"><table>',
    ...(named
      ? [
          `<thead><tr>${head
            .map((text, i) => (text === '' ? `<td${side(i)}></td>` : `<th scope="col"${side(i)}>${escaped(text)}</th>`))
            .join('')}</tr></thead>`,
        ]
      : []),
    '<tbody>',
    ...rows.map(
      (row) =>
        `<tr>${row
          .map((cell, i) =>
            i === 0 ? `<th scope="row"${side(i)}>${inline(cell)}</th>` : `<td${side(i)}>${inline(cell)}</td>`,
          )
          .join('')}</tr>`,
    ),
    '</tbody>',
    '</table></div>',
  ];
}

function inline(line: Line): string {
  return spans(line).map(spanText).join('');
}

function spanText({ text, tone, strong }: Span): string {
  const named = tone === undefined || tone === 'plain' ? '' : classOf(tone);
  if (strong === true) {
    const [before, after] = [/^\s/.test(text) ? ' ' : '', /\s$/.test(text) ? ' ' : ''];
    return `${before}<strong${named}>${escaped(text.trim())}</strong>${after}`;
  }
  return named === '' ? escaped(text) : `<span${named}>${escaped(text)}</span>`;
}

function toneOf(line: Line): string | undefined {
  return spans(line).find(({ tone }) => tone !== undefined && tone !== 'plain' && tone !== 'quiet')?.tone;
}

function classOf(tone: string | undefined): string {
  return tone === undefined ? '' : ` class="${tone}"`;
}

function plain(line: Line): string {
  return spans(line)
    .map(({ text }) => text)
    .join('')
    .trim();
}

function escaped(text: string): string {
  return harmless(text)
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    .replaceAll("'", '&#39;');
}

const DIGITS = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/';

/** RFC 4648, 4. The core has no Buffer. */
function base64(bytes: Uint8Array): string {
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
