// Says in words what went wrong with a part of the page that loads in place. What was typed stays where it is.
function say(sentence, level) {
  const line = document.createElement("p");
  line.className = level;
  line.textContent = sentence;
  document.querySelector("#notices")?.replaceChildren(line);
  line.scrollIntoView({ block: "nearest" });
}

function refusalIn(answer) {
  const page = new DOMParser().parseFromString(answer, "text/html");
  return [...page.querySelectorAll("[data-says]")].map((part) => part.textContent.trim()).filter(Boolean).join(" ");
}

document.addEventListener("lab:say", ({ detail }) => say(detail.sentence, detail.level ?? "warning"));
document.addEventListener("htmx:responseError", ({ detail }) => {
  say(refusalIn(detail.xhr.responseText) || "The server could not do this. What you typed is still here; try again.", "error");
});
for (const silence of ["htmx:sendError", "htmx:timeout"]) {
  document.addEventListener(silence, () => say("The server did not answer. What you typed is still here; try again when the line is back.", "error"));
}
