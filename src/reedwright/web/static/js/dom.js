// Elements of a page and of a drawing, made in one line.
const SVG = "http://www.w3.org/2000/svg";

// `properties` as the element has them in script; children that are null are left out.
export function element(name, properties = {}, ...children) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...children.filter((each) => each !== null && each !== undefined));
  return made;
}

// An element of a drawing, with its attributes.
export function shape(name, attributes = {}, ...children) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}
