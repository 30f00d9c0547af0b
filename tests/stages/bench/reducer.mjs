// node reducer.mjs REDUCER FOLDER: prints the tables and what the browser's reducer says of each vector.
import { readFileSync, readdirSync } from "node:fs";
import { pathToFileURL } from "node:url";
const [reducer, folder] = process.argv.slice(2);
const { state, Refused, TRANSITIONS } = await import(pathToFileURL(reducer).href);
const said = {};
for (const name of readdirSync(folder).filter((n) => n.endsWith(".json"))) {
  const v = JSON.parse(readFileSync(`${folder}/${name}`, "utf8"));
  try { said[name] = { state: state(v.process, v.events, v.now), refused: null }; }
  catch (no) { if (!(no instanceof Refused)) throw no; said[name] = { state: null, refused: no.message }; }
}
console.log(JSON.stringify({ tables: TRANSITIONS, said }));
