#include "review/page_parts.h"

namespace shimsight::review {

const std::string_view kPageCss =
    R"css(:root{color-scheme:light dark;--bg:#f3f5f6;--paper:#fff;--ink:#1a2026;--dim:#58626c;--line:#d8dde2;--soft:#eef1f3;--accent:#0b5c94;--good:#1a7046;--warn:#8f5500;--bad:#a8231b}
@media (prefers-color-scheme:dark){:root{--bg:#0f1316;--paper:#181d22;--ink:#e4e9ed;--dim:#a0acb6;--line:#2f3840;--soft:#20272d;--accent:#76bdeb;--good:#6cca9a;--warn:#f0b03c;--bad:#ff9184}}
@media print{:root{color-scheme:light;--bg:#fff;--paper:#fff;--ink:#14181c;--dim:#4b545d;--line:#c6ccd2;--soft:#f1f3f5;--accent:#0b5c94;--good:#1a7046;--warn:#8f5500;--bad:#a8231b}}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;text-size-adjust:100%;scroll-behavior:smooth}
@media (prefers-reduced-motion:reduce){html{scroll-behavior:auto}}
body{margin:0;background:var(--bg);color:var(--ink);font:1rem/1.5 "Noto Sans","Liberation Sans",system-ui,sans-serif;font-variant-numeric:tabular-nums;overflow-wrap:break-word}
a{color:var(--accent)}
:focus-visible{outline:2px solid var(--accent);outline-offset:2px;border-radius:4px}
h1,h2,h3,h4,p,ul,ol,dl,figure{margin:0}
h1{font-size:1.7rem;line-height:1.2;letter-spacing:-.015em}
h2{font-size:1.3rem;line-height:1.25;letter-spacing:-.01em}
h3{font-size:1.05rem;line-height:1.3}
h4{font-size:.75rem;font-weight:600;letter-spacing:.06em;text-transform:uppercase;color:var(--dim)}
.wrap{max-width:72rem;margin:0 auto;padding:0 1rem}
.top{padding:1.75rem 0 1.25rem}
.top .wrap{display:flex;flex-wrap:wrap;gap:.35rem 2rem;align-items:flex-end;justify-content:space-between}
.brand{font-size:.8rem;font-weight:600;letter-spacing:.08em;text-transform:uppercase;color:var(--accent)}
.dim{color:var(--dim)}
.small{font-size:.875rem}
.bar{position:sticky;top:0;z-index:2;background:var(--bg);border-bottom:1px solid var(--line)}
.bar .wrap{display:flex;gap:.5rem;align-items:center;padding-top:.6rem;padding-bottom:.6rem;overflow-x:auto;scrollbar-width:none}
.bar button,.bar input{font:inherit;font-size:.875rem;color:var(--ink);background:var(--paper);border:1px solid var(--line);border-radius:999px;padding:.35rem .8rem;white-space:nowrap;min-height:2.25rem}
.bar button{cursor:pointer}
.bar button[aria-pressed=true]{background:var(--accent);border-color:var(--accent);color:var(--paper)}
.bar button b{font-weight:600;opacity:.75;margin-left:.3rem}
.bar input{flex:1 0 9rem;max-width:16rem;margin-left:auto}
main{padding:1.25rem 0 2.5rem}
.cards{list-style:none;padding:0;display:grid;gap:.9rem;grid-template-columns:repeat(auto-fill,minmax(min(100%,19rem),1fr))}
.card{background:var(--paper);border:1px solid var(--line);border-radius:12px;overflow:hidden;display:flex;flex-direction:column}
.card a{color:inherit;text-decoration:none;display:flex;flex-direction:column;flex:1}
.card a:hover h3{color:var(--accent)}
.thumbs{display:grid;grid-template-columns:1fr 1fr;gap:2px;background:var(--soft)}
.thumbs img{display:block;width:100%;aspect-ratio:3/2;object-fit:cover}
.thumbs .none{display:flex;align-items:center;justify-content:center;aspect-ratio:3/2;font-size:.8rem;color:var(--dim);padding:.5rem;text-align:center}
.card .text{padding:.8rem .9rem .9rem;display:flex;flex-direction:column;gap:.45rem;flex:1}
.strip{display:flex;gap:.35rem;margin-top:auto;padding-top:.3rem}
.strip div{flex:1 1 0;max-width:4.2rem;min-width:0;display:grid;gap:.25rem;font-size:.7rem;color:var(--dim);text-align:center;line-height:1}
.unread{opacity:.35}
.pills{display:flex;flex-wrap:wrap;gap:.3rem}
.pill{display:inline-flex;align-items:center;gap:.35rem;font-size:.78rem;font-weight:600;line-height:1.2;padding:.2rem .55rem;border-radius:999px;border:1px solid var(--line);color:var(--dim);background:var(--paper)}
.pill::before{content:"";width:.5rem;height:.5rem;border-radius:50%;background:currentColor;flex:none}
.pill.good{color:var(--good)}.pill.warn{color:var(--warn)}.pill.bad{color:var(--bad)}
.pill.warn::before{border-radius:1px;transform:rotate(45deg) scale(.85)}
.pill.bad::before{border-radius:0;clip-path:polygon(50% 0,100% 100%,0 100%);width:.6rem;height:.55rem}
.legend{display:flex;flex-wrap:wrap;gap:.3rem 1.3rem;font-size:.84rem;color:var(--dim);margin:1.6rem 0 0}
.legend span{display:inline-flex;align-items:center;gap:.45rem}
.legend svg{width:1.9rem;height:1rem;flex:none}
.job{margin-top:1.1rem;background:var(--paper);border:1px solid var(--line);border-radius:14px;padding:1.25rem;scroll-margin-top:4rem}
.job>header{display:flex;flex-wrap:wrap;gap:.5rem 1.5rem;justify-content:space-between;align-items:flex-start}
.job>header>div:first-child{flex:1 1 22rem;min-width:0}
.facts{list-style:none;padding:0;display:flex;flex-wrap:wrap;gap:.2rem 1.4rem;margin-top:.4rem;font-size:.9rem}
.facts span{color:var(--dim)}
.next{margin-top:.8rem}
.notes{list-style:none;padding:0;display:grid;gap:.45rem;margin-top:.8rem}
.notes li{padding:.55rem .75rem;border-left:3px solid var(--line);background:var(--soft);border-radius:0 8px 8px 0;font-size:.93rem}
.notes li.bad{border-left-color:var(--bad)}
.notes li.warn{border-left-color:var(--warn)}
.notes b{display:block;font-size:.8rem}
.notes li.bad b{color:var(--bad)}.notes li.warn b{color:var(--warn)}
.path{display:grid;gap:1rem;grid-template-columns:repeat(auto-fit,minmax(min(100%,17rem),1fr));margin-top:1.1rem;padding-top:1.1rem;border-top:1px solid var(--line)}
.path .fk{max-width:27rem}.path .fk-word{font-size:12px}
.path figcaption,.sketches figcaption{font-size:.88rem;margin-bottom:.3rem}
.trial{margin-top:1.3rem;padding-top:1.2rem;border-top:1px solid var(--line)}
.trial>header{display:flex;flex-wrap:wrap;gap:.2rem 1rem;align-items:baseline}
.body{display:grid;gap:1.1rem;margin-top:.8rem}
@media (min-width:60rem){.body{grid-template-columns:minmax(0,11fr) minmax(0,9fr)}}
.photos{display:grid;gap:.8rem;grid-template-columns:repeat(auto-fit,minmax(min(100%,14rem),1fr));align-content:start}
.photos img{display:block;width:100%;height:auto;border-radius:8px;background:var(--soft)}
.photos figcaption{font-size:.82rem;color:var(--dim);margin-top:.35rem;line-height:1.4}
.photos figcaption b{color:var(--ink);font-weight:600}
.sketches{display:grid;gap:.9rem;grid-template-columns:repeat(auto-fit,minmax(min(100%,13rem),1fr));align-content:start}
.sketches .none{display:flex;align-items:center;justify-content:center;aspect-ratio:2/1;border:1px dashed var(--line);border-radius:8px;color:var(--dim);font-size:.88rem;padding:.5rem;text-align:center}
.steps{display:grid;gap:.6rem;margin-top:1rem;grid-template-columns:minmax(0,1fr)}
@media (min-width:44rem){.steps{grid-template-columns:minmax(0,5fr) minmax(0,5fr) minmax(0,2.4fr)}}
.step{background:var(--soft);border-radius:10px;padding:.7rem .85rem;display:flex;flex-direction:column;gap:.25rem}
.step p{font-size:.93rem}
.step .main{font-weight:600;font-size:1rem;line-height:1.35}
.step .pill{align-self:flex-start;margin-top:.15rem}
details{margin-top:.8rem;font-size:.92rem}
summary{cursor:pointer;color:var(--accent);padding:.25rem 0}
details ul{padding-left:1.2rem;display:grid;gap:.3rem;margin:.35rem 0 .8rem}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%;max-width:36rem;margin:.3rem 0 .8rem;font-size:.9rem}
th,td{text-align:left;padding:.28rem .8rem .28rem 0;border-bottom:1px solid var(--line);vertical-align:top}
th{font-weight:500;color:var(--dim)}
.left{margin-top:1.6rem}
.left ul{padding-left:1.2rem;display:grid;gap:.3rem;margin-top:.5rem;font-size:.92rem}
.pages{display:flex;gap:1.5rem;margin-top:1.4rem}
.foot{border-top:1px solid var(--line);padding:1.2rem 0 2.5rem;font-size:.86rem;color:var(--dim)}
.foot p+p{margin-top:.5rem}
[hidden]{display:none!important}
@media (max-width:30rem){.job{padding:1rem .85rem;border-radius:10px}.wrap{padding:0 .75rem}h1{font-size:1.45rem}}
@media print{@page{margin:14mm}body{font-size:9.5pt}.bar,.pages{display:none}.job{border:0;padding:0;break-before:page;margin:0}.card,.step,figure,.notes li,table{break-inside:avoid}.trial>header{break-after:avoid}.body{grid-template-columns:1fr;gap:8pt}.photos,.sketches{grid-template-columns:1fr 1fr}.sketches .fk{max-width:66mm}.steps{grid-template-columns:5fr 5fr 2.4fr}.cards{grid-template-columns:1fr 1fr 1fr;gap:6pt}.photos img{max-height:62mm;width:auto;max-width:100%}a{color:inherit;text-decoration:none}.top{padding:0 0 8pt}main{padding:0}.thumbs img,.pill::before{-webkit-print-color-adjust:exact;print-color-adjust:exact}}
)css";

const std::string_view kPageScript = R"js((function(){
var bar=document.querySelector(".bar"),buttons=[].slice.call(bar.querySelectorAll("button")),
search=bar.querySelector("input"),items=[].slice.call(document.querySelectorAll("[data-flags]")),
none=document.getElementById("none"),flag="";
function has(item,f){return !f||(" "+item.getAttribute("data-flags")+" ").indexOf(" "+f+" ")>=0}
function show(){var words=search.value.toLowerCase().trim(),any=false;
items.forEach(function(item){var on=has(item,flag)&&(!words||item.getAttribute("data-text").indexOf(words)>=0);
item.hidden=!on;any=any||on});
none.hidden=any;
buttons.forEach(function(b){b.setAttribute("aria-pressed",String(b.getAttribute("data-filter")===flag))})}
buttons.forEach(function(b){b.addEventListener("click",function(){flag=b.getAttribute("data-filter");show()})});
search.addEventListener("input",show);
bar.hidden=false;show();
})();)js";

}  // namespace shimsight::review
