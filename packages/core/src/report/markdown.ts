import { type Block, harmless, type Line, spans } from './document.js';

/** Renders blocks as GitHub-flavoured markdown; cell texts are data, so every mark-up character is escaped. */
export function renderMarkdown(blocks: readonly Block[]): string {
  const out: string[] = [];
  for (const block of blocks) {
    switch (block.kind) {
      case 'title':
        out.push(`# ${inline(block.line)}`, '');
        break;
      case 'heading':
        out.push(
          `## ${escaped(block.text)}`,
          '',
          ...(block.note === undefined ? [] : [`_${escaped(block.note)}_`, '']),
        );
        break;
      case 'subheading':
        out.push(`### ${inline(block.line)}`, '');
        break;
      case 'paragraph':
        out.push(inline(block.line), '');
        break;
      case 'facts':
        out.push(
          ...block.rows.map(([name, line]) => `- ${name === '' ? '' : `**${escaped(name)}**: `}${inline(line)}`),
          '',
        );
        break;
      case 'list':
        if (block.label !== undefined) out.push(`**${escaped(block.label.trim())}**`, '');
        out.push(...block.items.map((item, i) => `${block.ordered ? `${i + 1}.` : '-'} ${inline(item)}`), '');
        break;
      case 'code':
        out.push('```', ...block.lines.map((line) => harmless(line).replaceAll('```', '')), '```', '');
        break;
      case 'table': {
        const rule = block.head.map((_, i) => (block.right?.includes(i) ? '---:' : '---'));
        const names = block.head.map((name, i) => name || (i === 0 ? 'what' : 'says'));
        out.push(row(names.map(escaped)), row(rule), ...block.rows.map((cells) => row(cells.map(inline))), '');
      }
    }
  }
  return `${out
    .join('\n')
    .replace(/\n{3,}/g, '\n\n')
    .trim()}\n`;
}

function row(cells: readonly string[]): string {
  return `| ${cells.join(' | ')} |`;
}

function inline(line: Line): string {
  return spans(line)
    .map((part) => {
      const text = escaped(part.text);
      const [lead = ''] = /^ */.exec(text) ?? [];
      const [tail = ''] = / *$/.exec(text) ?? [];
      return part.strong && text.trim() !== ''
        ? `${lead && ' '}**${text.trim()}**${tail && ' '}`
        : text.replace(/^ +/, ' ');
    })
    .join('');
}

function escaped(text: string): string {
  return harmless(text).replace(/[\\`*_{}[\]<>#|~&]/g, (char) =>
    char === '<' ? '&lt;' : char === '>' ? '&gt;' : char === '&' ? '&amp;' : `\\${char}`,
  );
}
