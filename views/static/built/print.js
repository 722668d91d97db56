for(let n of document.querySelectorAll("[data-print]"))n.hidden=!1,n.onclick=()=>window.print();
