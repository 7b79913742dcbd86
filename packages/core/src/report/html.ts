import { type Block, type Line, type Span, spans } from './document.js';
import { STYLE } from './html-style.js';
import { escaped, pageOf, scrollOf } from './page-shell.js';

/**
 * Renders blocks as one self-contained page: no script, no network, a policy that forbids both, printable. Every text is
 * data and escaped. Same blocks, same bytes.
 */
export function renderHtml(blocks: readonly Block[]): string {
  const title = blocks.find((block) => block.kind === 'title');
  return pageOf({
    title: title === undefined ? 'telltale' : plain(title.line),
    style: STYLE,
    body: ['<main>', ...blocks.flatMap(blockLines), '</main>'],
  });
}

/** Lines of HTML of one block. */
export function blockLines(block: Block): string[] {
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
    scrollOf('table'),
    '<table>',
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

/** A line with its tones. */
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
