import { CHANNELS } from './catalogue/index.js';

function cell(text: string): string {
  return text.replaceAll('|', '\\|');
}

/** The catalogue as markdown: one table per system. Generated text, the same for the same catalogue. */
export function channelDocs(): string {
  const lines: string[] = [
    '# Channels',
    '',
    'Generated from the catalogue; do not edit. A position follows the id after a dot: `knockRetard.cylinder3`,',
    '`oxygenSensorVoltage.bank1Sensor2`, `wheelSpeed.frontLeft`. Range = plausible values; a value outside is no reading.',
    'Pressures are absolute unless the unit says gauge. Words in ( ) of a wording may be absent.',
  ];
  let system = '';
  for (const channel of CHANNELS) {
    if (channel.system !== system) {
      system = channel.system;
      lines.push(
        '',
        `## ${system}`,
        '',
        '| id | what | unit | range | positions | kind | wordings | source |',
        '|---|---|---|---|---|---|---|---|',
      );
    }
    const wordings = [
      ...channel.aliases,
      ...channel.weakAliases.map((text) => `${text} (likely)`),
      ...channel.unitAliases.map((text) => `${text} (only with a unit)`),
    ];
    lines.push(
      `| \`${channel.id}\` | ${cell(channel.about)}${channel.signConvention === undefined ? '' : ` (${cell(channel.signConvention)})`} | ${channel.unit}${channel.gauge === true ? ' gauge' : ''} | ${channel.range[0]} to ${channel.range[1]} | ${channel.positions.join(', ') || '-'} | ${channel.kind} | ${cell(wordings.join('; '))} | ${cell(channel.source)} |`,
    );
  }
  return `${lines.join('\n')}\n`;
}
